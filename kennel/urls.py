"""All paths of the server."""

from django.urls import include, path

from kennel.upkeep import views as upkeep

urlpatterns = [
    path("livez", upkeep.livez),
    path("readyz", upkeep.readyz),
    path("healthz", upkeep.healthz),
    path("problems/<slug:slug>", upkeep.problem),
    path("api/v1/", include("kennel.api.urls")),
    path("accounts/", include("allauth.urls")),
    path("", include("kennel.web.urls")),
]
handler400 = "kennel.web.errors.bad_request"
handler403 = "kennel.web.errors.forbidden"
handler404 = "kennel.web.errors.not_found"
handler500 = "kennel.web.errors.broken"
