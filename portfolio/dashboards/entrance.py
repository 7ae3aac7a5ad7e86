"""In and out: a login with counted tries, a logout that is a form."""

from django.contrib.auth import authenticate, login, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views import View

from portfolio.dashboards.display import back_to
from portfolio.dashboards.page import SeeOther, text_of
from portfolio.door.limits import count_login_try, forget_login_tries
from portfolio.door.problems import Problem

_TEMPLATE = "portfolio/login.html"


class LoginPage(View):
    def get(self, request: HttpRequest) -> HttpResponse:
        return render(request, _TEMPLATE, {"next": request.GET.get("next", "")})

    def post(self, request: HttpRequest) -> HttpResponse:
        email, password = text_of(request.POST, "email", 254), request.POST.get("password", "")
        held = {"next": request.POST.get("next", ""), "email": email}
        if not email or not password:
            return render(
                request, _TEMPLATE, held | {"fault": "Both mail address and password are needed."}, status=400
            )
        try:
            count_login_try(request, email)
        except Problem as many:
            fault = f"{many.title}. {many.detail}"
            answer = render(request, _TEMPLATE, held | {"fault": fault}, status=many.status)
            answer["Retry-After"] = many.headers["Retry-After"]
            return answer
        person = authenticate(request, username=email, password=password)
        if person is None:
            return render(
                request, _TEMPLATE, held | {"fault": "No account has this mail address and password."}, status=400
            )
        forget_login_tries(email)
        login(request, person)
        return SeeOther(back_to(request))


class LogoutPage(View):
    def post(self, request: HttpRequest) -> HttpResponse:
        logout(request)
        return SeeOther("/login")
