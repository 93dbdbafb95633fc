from django.urls import path

from fleet.register import disposing, finding, label_page, photographs, views

app_name = "register"
urlpatterns = [
    path("horns/", views.horns, name="horns"),
    path("horns/new/", views.horn_new, name="horn-new"),
    path("horns/identified/", finding.identified, name="identified"),
    path("horns/<int:pk>/edit/", views.horn_edit, name="horn-edit"),
    path("horns/<int:pk>/stand/", views.stand, name="stand"),
    path("horns/<int:pk>/standing/", views.standing, name="standing"),
    path("horns/<int:pk>/disposal/", disposing.disposal, name="disposal"),
    path("disposals/<int:pk>/decide/", disposing.disposal_decide, name="disposal-decide"),
    path("horns/<int:pk>/photographs/new/", photographs.photograph_add, name="photograph-add"),
    path("photographs/<int:pk>/", photographs.photograph, name="photograph"),
    path("photographs/<int:pk>/remove/", photographs.photograph_remove, name="photograph-remove"),
    path("settings/label-sheet/", label_page.label_sheet, name="label-sheet"),
    path("places/", views.places, name="places"),
    path("places/new/", views.place_new, name="place-new"),
    path("places/<int:pk>/", views.place_edit, name="place-edit"),
]
