"""An empty record in a folder that goes away, for scripts; import before anything of labbook."""

import atexit
import os
import tempfile

folder = tempfile.TemporaryDirectory(prefix="labbook-")
atexit.register(folder.cleanup)
os.environ["LABBOOK_DATA"] = folder.name
os.environ["DJANGO_SETTINGS_MODULE"] = "labbook.settings"

import django  # noqa: E402  the settings are read from the environment set above

django.setup()

from django.core.management import call_command  # noqa: E402  needs the settings

call_command("migrate", verbosity=0)
