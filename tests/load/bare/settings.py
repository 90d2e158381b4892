"""The record's own database settings, beside its own tables, and no middleware at all."""

from labbook.settings import ALLOWED_HOSTS, DATABASES, SECRET_KEY, USE_TZ

__all__ = ["ALLOWED_HOSTS", "SECRET_KEY", "USE_TZ"]

database = DATABASES["default"]
is_file = str(database["ENGINE"]).endswith("sqlite3")
DATABASES = {"default": {**database, "NAME": f"{database['NAME']}-bare"} if is_file else database}
INSTALLED_APPS = ["tests.load.bare"]
MIDDLEWARE: list[str] = []
ROOT_URLCONF = "tests.load.bare.urls"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
