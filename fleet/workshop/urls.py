from django.urls import URLPattern

app_name = "workshop"
urlpatterns: list[URLPattern] = []
