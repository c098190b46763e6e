from django.urls import path

from builds.views import catalogue

urlpatterns = [
    path("catalogue/", catalogue.catalogue, name="catalogue"),
    path("catalogue/export/", catalogue.catalogue_export, name="catalogue-export"),
    path("catalogue/import/", catalogue.catalogue_import, name="catalogue-import"),
    path("catalogue/new/", catalogue.part_type_new, name="part-type-new"),
    path("catalogue/part/<slug:key>/", catalogue.part_type, name="part-type"),
    path(
        "catalogue/part/<slug:key>/edit/",
        catalogue.part_type_edit,
        name="part-type-edit",
    ),
    path("packages/", catalogue.packages, name="packages"),
]
