from builds.urls import card, catalogue, jobs, pack, vehicles, worksheets

urlpatterns = [
    *jobs.urlpatterns,
    *card.urlpatterns,
    *pack.urlpatterns,
    *vehicles.urlpatterns,
    *catalogue.urlpatterns,
    *worksheets.urlpatterns,
]
