from django.urls import path

from fleet.loans import batch_pages, issuing, proposing, returning, views

app_name = "loans"
urlpatterns = [
    path("loans/", views.loans, name="loans"),
    path("loans/issue/", issuing.issue, name="issue"),
    path("loans/issue/pupils/", issuing.pupil_search, name="pupil-search"),
    path("loans/agreement/", views.agreement, name="agreement"),
    path("loans/batch/", batch_pages.batch, name="batch"),
    path("matching/", proposing.matching, name="matching"),
    path("matching/rules/", proposing.rules, name="matching-rules"),
    path("loans/<int:pk>/", views.loan, name="loan"),
    path("loans/<int:pk>/return/", returning.give_back, name="return"),
    path("loans/<int:pk>/mouthpiece/", views.mouthpiece, name="mouthpiece"),
]
