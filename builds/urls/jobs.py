from django.urls import path

from builds.views import (
    charts,
    circuits,
    jobs,
    line_items,
    stages,
    switching,
    variants,
    week,
)

urlpatterns = [
    path("", jobs.builds, name="builds"),
    path("week/", week.week, name="week"),
    path("builds/new/", jobs.build_new, name="build-new"),
    # /builds/<build_id>/
    path("builds/<int:build_id>/", jobs.build, name="build"),
    path("builds/<int:build_id>/edit/", jobs.build_edit, name="build-edit"),
    path("builds/<int:build_id>/switches/", switching.switching, name="switching"),
    path("builds/<int:build_id>/stage/", stages.move_stage, name="stage"),
    path("builds/<int:build_id>/approval/", stages.approval, name="approval"),
    path("builds/<int:build_id>/parts/", line_items.add_part, name="build-add-part"),
    path(
        "builds/<int:build_id>/parts/find/",
        line_items.part_choices,
        name="part-choices",
    ),
    path(
        "builds/<int:build_id>/packages/",
        line_items.add_package,
        name="build-add-package",
    ),
    path(
        "builds/<int:build_id>/preview/", line_items.item_preview, name="item-preview"
    ),
    path(
        "builds/<int:build_id>/items/new/",
        line_items.line_item_new,
        name="line-item-new",
    ),
    path(
        "builds/<int:build_id>/items/<int:item_id>/",
        line_items.line_item_edit,
        name="line-item-edit",
    ),
    path(
        "builds/<int:build_id>/items/<int:item_id>/remove/",
        line_items.line_item_remove,
        name="line-item-remove",
    ),
    path(
        "builds/<int:build_id>/items/<int:item_id>/switch/",
        switching.place_switch,
        name="place-switch",
    ),
    path(
        "builds/<int:build_id>/circuits/new/",
        circuits.circuit_new,
        name="circuit-new",
    ),
    path(
        "builds/<int:build_id>/circuits/<int:circuit_id>/",
        circuits.circuit_edit,
        name="circuit-edit",
    ),
    path(
        "builds/<int:build_id>/circuits/<int:circuit_id>/remove/",
        circuits.circuit_remove,
        name="circuit-remove",
    ),
    path(
        "builds/<int:build_id>/variants/",
        variants.build_variants,
        name="build-variants",
    ),
    path(
        "builds/<int:build_id>/variants/new/", variants.variant_new, name="variant-new"
    ),
    path(
        "builds/<int:build_id>/compare/<int:other_id>/",
        variants.compare,
        name="compare",
    ),
    path("builds/<int:build_id>/take/", variants.take_variant, name="variant-take"),
    path("builds/<int:build_id>/set-aside/", variants.set_aside, name="set-aside"),
    path("builds/<int:build_id>/take-up/", variants.take_up, name="take-up"),
    path("builds/<int:build_id>/charts/", charts.charts, name="charts"),
]
