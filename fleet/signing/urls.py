"""Addresses of issuing and signing."""

from django.urls import path

from fleet.signing.pages import agreements, batches, issuing, new_year, sheets, signed_later, signed_sheets

urlpatterns = [
    path("loans/issue/", issuing.issue, name="issue"),
    path("loans/agreement/", agreements.agreement, name="agreement"),
    path("loans/agreement/<int:pk>/own.pdf", agreements.agreement_own, name="agreement-own"),
    path("loans/sheets/away/", sheets.sheets_away, name="sheets-away"),
    path("loans/sheets/<int:pk>/", sheets.sheet_out, name="sheet-out"),
    path("loans/sheets/<int:pk>/together/", sheets.sheets_together, name="sheets-together"),
    path("loans/<int:pk>/signed-sheets/new/", signed_sheets.signed_sheet_new, name="signed-sheet-new"),
    path("loans/signed-sheets/<int:pk>/", signed_sheets.signed_sheet, name="signed-sheet"),
    path("loans/signed-sheets/<int:pk>/remove/", signed_sheets.signed_sheet_remove, name="signed-sheet-remove"),
    path("loans/<int:pk>/signed/", signed_later.signed, name="signed"),
    path("loans/batch/", batches.batch, name="batch"),
    path("settings/year/new/", new_year.new_year, name="new-year"),
]
