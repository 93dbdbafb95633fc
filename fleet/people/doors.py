"""How people come in: by invitation only, never by signing themselves up."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class Doorkeeper(DefaultAccountAdapter):
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
