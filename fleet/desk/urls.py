"""Addresses people arrive at, and of pages that show several slices at once."""

from typing import Any

from django.urls import include, path

from fleet.desk.pages import (
    arriving,
    charts,
    guide,
    horns,
    picture,
    prints,
    pupil_data,
    pupils,
    record,
    today,
)
from fleet.desk.pages.family import acts, learning, papers
from fleet.desk.pages.family import horn as family_horn
from fleet.desk.pages.several import by_number
from fleet.desk.pages.several import horns as horns_several
from fleet.desk.pages.several import loans as loans_several
from fleet.desk.pages.several import pupils as pupils_several
from fleet.desk.pages.several.act import Several, page_of

ACTS: list[Several[Any]] = [
    horns_several.AllFine(),
    horns_several.MovePlace(),
    horns_several.Mouthpieces(),
    horns_several.PrintHorns(),
    loans_several.Renew(),
    loans_several.NextSchoolDay(),
    loans_several.Recall(),
    loans_several.PrintLoans(),
    pupils_several.MoveClass(),
    pupils_several.Leavers(),
]
# `fleet.urls` joins these with the people's own under one name, `people`.
pupil_pages = [
    path("pupils/", pupils.pupils, name="pupils"),
    path("pupils/new/", pupils.pupil_new, name="pupil-new"),
    path("classes/", pupils.classes, name="classes"),
    path("classes/rename/", pupils.class_rename, name="class-rename"),
    path("pupils/<int:pk>/", pupils.pupil, name="pupil"),
    path("pupils/<int:pk>/change/", pupils.pupil_edit, name="pupil-edit"),
    path("pupils/<int:pk>/twice/", pupils.pupil_twice, name="pupil-twice"),
    path("pupils/<int:pk>/struck-out/", pupils.pupil_strike_out, name="pupil-strike-out"),
    path("pupils/<int:pk>/guardians/new/", pupils.guardian_new, name="guardian-new"),
    path("guardians/<int:pk>/", pupils.guardian_edit, name="guardian-edit"),
    path("guardians/<int:pk>/twice/", pupils.guardian_twice, name="guardian-twice"),
    path("guardians/<int:pk>/looked-into/", pupils.guardian_looked, name="guardian-looked"),
]
school_pages = [
    path("", today.today, name="today"),
    path("horns/<int:pk>/", horns.horn, name="horn"),
    path("horns/<int:pk>/chart/", charts.chart, name="chart"),
    path("horns/<int:pk>/chart.musicxml", charts.chart_xml, name="chart-xml"),
    path("together/", charts.together, name="together"),
    path("guide/", guide.guide, name="guide"),
    path("guide/<slug:build>/", guide.guide_build, name="guide-build"),
    path("picture/", picture.picture, name="picture"),
    path("pupils/<int:pk>/data.zip", pupil_data.pupil_data, name="pupil-data"),
    path("pupils/<int:pk>/forget/", pupil_data.pupil_forget, name="pupil-forget"),
    path("record/", record.record, name="record"),
    path("prints/", prints.prints, name="prints"),
    path("several/", by_number.by_number, name="several"),
    *(path(f"several/{act.path}/", page_of(act), name=f"several-{act.path}") for act in ACTS),
]
app_name = "desk"
urlpatterns = [
    path("s/<slug:school>/", include(school_pages)),
    path("", arriving.home, name="home"),
    path("benches/", today.benches, name="benches"),
    path("h/<slug:code>/", arriving.label, name="label"),
    path("p/<slug:code>/", arriving.sheet, name="sheet"),
    path("family/", family_horn.family, name="family"),
    path("family/<int:pk>/", family_horn.family_horn, name="family-horn"),
    path("family/guide/", learning.family_guide, name="family-guide"),
    path("family/guide/<slug:build>/", learning.family_guide_build, name="family-guide-build"),
    path("family/data.zip", acts.data, name="family-data"),
    path("family/sign/<int:pk>/", acts.sign, name="family-sign"),
    path("family/sign/<int:pk>/agreement.pdf", acts.agreement, name="family-agreement"),
    path("family/papers/", papers.papers, name="family-papers"),
    path("family/papers/due.ics", papers.due, name="family-due"),
    path("family/papers/calendar/", papers.calendar, name="family-calendar"),
    path("family/letters/<int:pk>/", papers.letter, name="family-letter"),
    path("family/<int:pk>/taken-back/", acts.taken_back, name="family-taken-back"),
    path("family/<int:pk>/bring/", acts.bring, name="family-bring"),
    path("family/<int:pk>/longer/", acts.renew, name="family-renew"),
    path("family/<int:pk>/lost/", acts.lost, name="family-lost"),
    path("family/<int:pk>/chart/", learning.family_chart, name="family-chart"),
    path("family/<int:pk>/care.pdf", family_horn.family_care, name="family-care"),
    path("family/<int:pk>/sheet.pdf", family_horn.family_sheet, name="family-sheet"),
    path("family/signed-sheets/<int:pk>/", family_horn.family_signed_sheet, name="family-signed-sheet"),
    path("family/pictures/<int:pk>/", family_horn.family_picture, name="family-picture"),
]
