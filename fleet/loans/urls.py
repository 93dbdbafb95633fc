from django.urls import path

from fleet.loans import batch_pages, due_calendar, issuing, mailing, proposing, returning, running, scanning, views

app_name = "loans"
urlpatterns = [
    path("loans/", views.loans, name="loans"),
    path("loans/issue/", issuing.issue, name="issue"),
    path("loans/issue/pupils/", issuing.pupil_search, name="pupil-search"),
    path("loans/agreement/", views.agreement, name="agreement"),
    path("loans/back/", scanning.back, name="back"),
    path("loans/letters/", mailing.letters, name="letters"),
    path("loans/letters/<int:pk>/", mailing.letter, name="letter"),
    path("loans/letters/words/", mailing.letter_words, name="letter-words"),
    path("loans/calendar/", due_calendar.calendar, name="calendar"),
    path("loans/charges/", running.charges, name="charges"),
    path("loans/charges/<int:pk>/", running.charge, name="charge"),
    path("loans/asks/<int:pk>/", running.ask, name="ask"),
    path("horns/<int:pk>/loans/", running.of_horn, name="of-horn"),
    path("pupils/<int:pk>/loans/", running.of_pupil, name="of-pupil"),
    path("loans/batch/", batch_pages.batch, name="batch"),
    path("matching/", proposing.matching, name="matching"),
    path("matching/rules/", proposing.rules, name="matching-rules"),
    path("loans/<int:pk>/", views.loan, name="loan"),
    path("loans/<int:pk>/return/", returning.give_back, name="return"),
    path("loans/<int:pk>/renew/", running.renew, name="renew"),
    path("loans/<int:pk>/recall/", running.recall, name="recall"),
    path("loans/<int:pk>/swap/", returning.swap, name="swap"),
    path("loans/<int:pk>/lost/", running.lost, name="lost"),
    path("loans/<int:pk>/charge/", running.charge_new, name="charge-new"),
    path("loans/<int:pk>/mouthpiece/", views.mouthpiece, name="mouthpiece"),
]
