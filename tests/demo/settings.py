"""The demo's own processes in a test: as ever, but passwords are hashed quickly."""

from portfolio.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
