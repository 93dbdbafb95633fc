from django.urls import path

from fleet.exchange.pages import downloads
from fleet.exchange.pages import imports as views

app_name = "exchange"
urlpatterns = [
    path("", views.imports, name="imports"),
    path("<int:pk>/", views.one_import, name="import"),
    path("<int:pk>/columns/", views.columns, name="columns"),
    path("<int:pk>/refused/", views.refused_rows, name="refused"),
    path("horns/", downloads.horns_out, name="horns-out"),
    path("pupils/", downloads.pupils_out, name="pupils-out"),
    path("loans/", downloads.loans_out, name="loans-out"),
    path("past-loans/", downloads.past_loans_out, name="past-loans-out"),
    path("charges/", downloads.charges_out, name="charges-out"),
    path("jobs/", downloads.jobs_out, name="jobs-out"),
    path("parts/", downloads.parts_out, name="parts-out"),
]
