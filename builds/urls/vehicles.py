from django.urls import path

from builds.views import search, vehicles

urlpatterns = [
    path("search/", search.search, name="search"),
    path("vehicles/", vehicles.vehicles, name="vehicles"),
    path("vehicles/new/", vehicles.vehicle_new, name="vehicle-new"),
    path("vehicles/<int:vehicle_id>/", vehicles.vehicle, name="vehicle"),
    path("vehicles/<int:vehicle_id>/edit/", vehicles.vehicle_edit, name="vehicle-edit"),
    path(
        "vehicles/<int:vehicle_id>/remove/",
        vehicles.vehicle_remove,
        name="vehicle-remove",
    ),
    path(
        "vehicles/<int:vehicle_id>/switches/new/",
        vehicles.switch_position_new,
        name="switch-position-new",
    ),
    path(
        "vehicles/<int:vehicle_id>/switches/<int:place_id>/remove/",
        vehicles.switch_position_remove,
        name="switch-position-remove",
    ),
    path("type-sheets/", vehicles.type_sheets, name="type-sheets"),
    path("type-sheets/export/", vehicles.type_sheets_export, name="type-sheets-export"),
    path("type-sheets/import/", vehicles.type_sheets_import, name="type-sheets-import"),
    path("type-sheets/<slug:key>/", vehicles.type_sheet, name="type-sheet"),
]
