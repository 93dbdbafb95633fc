"""Addresses of settings and staff. `fleet.urls` joins them with those of a pupil's pages under one name, `people`."""

from django.urls import path

from fleet.people.pages import openings, own_words, settings

urlpatterns = [
    path("settings/", settings.settings, name="settings"),
    path("settings/school/", settings.school, name="settings-school"),
    path("settings/languages/", settings.languages, name="settings-languages"),
    path("settings/languages/<slug:language>/", own_words.sentence_list, name="settings-words"),
    path("settings/languages/<slug:language>/<slug:key>/", own_words.own_words, name="settings-sentence"),
    path("settings/lending/", settings.lending, name="settings-lending"),
    path("settings/workshop/", settings.workshop, name="settings-workshop"),
    path("settings/staff/", settings.staff_list, name="settings-staff"),
    path("settings/sign-in/", settings.sign_in, name="settings-sign-in"),
    path("settings/year/", settings.year, name="settings-year"),
    path("settings/year/holidays/new/", settings.holiday_new, name="holiday-new"),
    path("settings/year/holidays/<int:pk>/", settings.holiday_edit, name="holiday-edit"),
    path("settings/who-looked/", openings.openings, name="openings"),
    path("settings/staff/new/", settings.staff_new, name="staff-new"),
    path("settings/staff/<int:pk>/", settings.staff_edit, name="staff-edit"),
]
