from django.urls import path

from identify import views

app_name = "identify"
urlpatterns = [path("", views.walk, name="walk")]
