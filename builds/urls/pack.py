from django.urls import path

from builds.views import pack

urlpatterns = [
    path("builds/<int:build_id>/pack/", pack.pack, name="pack"),
    path("builds/<int:build_id>/pack/make/", pack.make_pack, name="pack-make"),
    path("packs/<int:pack_id>/", pack.pack_status, name="pack-status"),
    path("packs/<int:pack_id>/file/", pack.pack_file, name="pack-file"),
]
