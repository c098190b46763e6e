from django.urls import URLPattern, path

from builds.views import card

urlpatterns: list[URLPattern] = [
    # /builds/<build_id>/job-card/
    path("builds/<int:build_id>/job-card/", card.job_card, name="job-card"),
    path(
        "builds/<int:build_id>/job-card/record/",
        card.record_entry,
        name="job-card-record",
    ),
    path(
        "builds/<int:build_id>/job-card/events/",
        card.job_card_events,
        name="job-card-events",
    ),
    path(
        "builds/<int:build_id>/job-card/state/",
        card.job_card_state,
        name="job-card-state",
    ),
    path(
        "builds/<int:build_id>/job-card/tasks/new/",
        card.task_new,
        name="job-card-task-new",
    ),
    path(
        "builds/<int:build_id>/job-card/tasks/<int:task_id>/withdraw/",
        card.task_withdraw,
        name="job-card-task-withdraw",
    ),
]
