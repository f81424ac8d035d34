"""The product's settings on a data folder of this run's own: tests never touch a school's."""

import atexit
import os
import shutil
import tempfile

# pytest-django reads the settings before any conftest, so the folder is chosen here.
os.environ["STANDLIGHT_DATA"] = tempfile.mkdtemp(prefix="standlight-test-")

atexit.register(shutil.rmtree, os.environ["STANDLIGHT_DATA"], ignore_errors=True)

from standlight.web.settings import *  # noqa: E402, F403
