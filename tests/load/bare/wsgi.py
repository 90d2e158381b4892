"""Its server; the one table is made where it is not there yet."""

import os

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.load.bare.settings"

from django.core.wsgi import get_wsgi_application
from django.db import connection

application = get_wsgi_application()

from .models import Row  # noqa: E402  a model needs the application

if Row._meta.db_table not in connection.introspection.table_names():
    with connection.schema_editor() as editor:
        editor.create_model(Row)
connection.close()
