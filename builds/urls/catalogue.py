from django.urls import path

from builds.views import catalogue, figures, packages

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
    path("figures/", figures.own_figures, name="own-figures"),
    path("figures/set/", figures.own_figures_set, name="own-figures-set"),
    path("packages/", packages.packages, name="packages"),
    path("packages/export/", packages.packages_export, name="packages-export"),
    path("packages/import/", packages.packages_import, name="packages-import"),
    path("packages/new/", packages.package_new, name="package-new"),
    path("packages/package/<slug:key>/", packages.package, name="package"),
    path(
        "packages/package/<slug:key>/edit/", packages.package_edit, name="package-edit"
    ),
    path(
        "packages/package/<slug:key>/remove/",
        packages.package_remove,
        name="package-remove",
    ),
]
