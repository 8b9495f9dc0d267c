"""All paths of the server."""

from django.urls import include, path

urlpatterns = [
    path("api/v1/", include("kennel.api.urls")),
    path("accounts/", include("allauth.urls")),
]
