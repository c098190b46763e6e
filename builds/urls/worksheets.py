from django.urls import path

from builds.views import worksheets

urlpatterns = [
    path("worksheets/", worksheets.worksheets, name="worksheets"),
    path("worksheets/<slug:name>/", worksheets.worksheet, name="worksheet"),
]
