from django.urls import URLPattern

app_name = "loans"
urlpatterns: list[URLPattern] = []
