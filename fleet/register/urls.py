from django.urls import path

from fleet.register.pages import disposing, horns, identifying, labels, photographs, places, restringing, whereabouts

urlpatterns = [
    path("horns/", horns.horns, name="horns"),
    path("horns/new/", horns.horn_new, name="horn-new"),
    path("horns/identified/", identifying.identified, name="identified"),
    path("horns/<int:pk>/edit/", horns.horn_edit, name="horn-edit"),
    path("horns/<int:pk>/stand/", restringing.stand, name="stand"),
    path("horns/<int:pk>/sound/", restringing.sound, name="sound"),
    path("horns/<int:pk>/standing/", whereabouts.standing, name="standing"),
    path("horns/<int:pk>/disposal/", disposing.disposal, name="disposal"),
    path("disposals/<int:pk>/decide/", disposing.disposal_decide, name="disposal-decide"),
    path("horns/<int:pk>/place/", places.horn_place, name="horn-place"),
    path("horns/<int:pk>/photographs/new/", photographs.photograph_add, name="photograph-add"),
    path("photographs/<int:pk>/", photographs.photograph, name="photograph"),
    path("photographs/<int:pk>/remove/", photographs.photograph_remove, name="photograph-remove"),
    path("settings/label-sheet/", labels.label_sheet, name="label-sheet"),
    path("places/", places.places, name="places"),
    path("places/new/", places.place_new, name="place-new"),
    path("places/<int:pk>/", places.place_edit, name="place-edit"),
    path("places/<int:pk>/twice/", places.place_twice, name="place-twice"),
]
