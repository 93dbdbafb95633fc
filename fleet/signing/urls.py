"""Addresses of issuing and signing."""

from django.urls import path

from fleet.signing.pages import agreements, batches, issuing, sheets, signed_later

urlpatterns = [
    path("loans/issue/", issuing.issue, name="issue"),
    path("loans/issue/pupils/", issuing.pupil_search, name="pupil-search"),
    path("loans/agreement/", agreements.agreement, name="agreement"),
    path("loans/sheets/away/", sheets.sheets_away, name="sheets-away"),
    path("loans/<int:pk>/signed/", signed_later.signed, name="signed"),
    path("loans/batch/", batches.batch, name="batch"),
]
