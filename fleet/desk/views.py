from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from fleet.access import SeatedRequest
from fleet.people.models import Post


def home(request: HttpRequest) -> HttpResponse:
    """Where somebody who has signed in belongs: their school, a choice of schools, or the family's page."""
    posts = list(Post.objects.select_related("school").filter(user__pk=int(request.user.pk or 0)).order_by("school__name"))
    if len(posts) == 1:
        return redirect("desk:today", school=posts[0].school.slug)
    if not posts:
        return redirect("desk:family")
    return render(request, "desk/home.html", {"posts": posts})


def today(request: SeatedRequest) -> HttpResponse:
    return render(request, "desk/today.html", {})
