"""Addresses of loans. `fleet.urls` joins them with those of signing, letters and matching under one name, `loans`."""

from django.urls import path

from fleet.lending.pages import (
    accessories,
    asks,
    charges,
    dates,
    loans,
    losing,
    mouthpieces,
    returning,
    taking_back,
    wishes,
)

urlpatterns = [
    path("loans/", loans.loans, name="loans"),
    path("loans/back/", taking_back.back, name="back"),
    path("loans/charges/", charges.charges, name="charges"),
    path("loans/charges/<int:pk>/", charges.one_charge, name="charge"),
    path("loans/accessories/<int:pk>/", accessories.accessory, name="accessory"),
    path("loans/wishes/", wishes.wishes, name="wishes"),
    path("loans/wishes/<int:pk>/end/", wishes.wish_end, name="wish-end"),
    path("pupils/<int:pk>/wishes/new/", wishes.wish_new, name="wish-new"),
    path("horns/<int:pk>/reserve/", wishes.reserve, name="reserve"),
    path("loans/asks/<int:pk>/", asks.ask, name="ask"),
    path("horns/<int:pk>/loans/", loans.of_horn, name="of-horn"),
    path("horns/<int:pk>/return/", returning.return_of, name="return-of"),
    path("horns/<int:pk>/noted/", returning.noted, name="noted"),
    path("horns/<int:pk>/mouthpiece/", mouthpieces.mouthpiece_of, name="mouthpiece-of"),
    path("pupils/<int:pk>/loans/", loans.of_pupil, name="of-pupil"),
    path("loans/<int:pk>/", loans.loan, name="loan"),
    path("loans/<int:pk>/return/", returning.give_back, name="return"),
    path("loans/<int:pk>/noted/", returning.note_away, name="note-away"),
    path("loans/<int:pk>/renew/", dates.renew, name="renew"),
    path("loans/<int:pk>/recall/", dates.recall, name="recall"),
    path("loans/<int:pk>/swap/", returning.swap, name="swap"),
    path("loans/<int:pk>/lost/", losing.lost, name="lost"),
    path("loans/<int:pk>/charge/", charges.charge_new, name="charge-new"),
    path("loans/<int:pk>/mouthpiece/", mouthpieces.mouthpiece, name="mouthpiece"),
]
