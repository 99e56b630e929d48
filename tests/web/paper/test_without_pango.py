"""A machine without the libraries that lay pages out serves everything else, and says what to install."""

import subprocess
import sys

LACKING = """
import cffi

def none(self, name, flags=0):
    raise OSError(f"cannot load library {name!r}")

cffi.FFI.dlopen = none
from service.app import create_app
from service.errors import Refused
from service.web.frame.pages import Reader
from service.web.frame.wishes import Wishes
from service.web.paper.pdf import pdf_of

try:
    pdf_of("<p>page", Reader(None, None, Wishes()))
except Refused as refused:
    print(refused.mend)
"""


def test_a_file_is_refused_with_what_to_install_and_the_service_is_there() -> None:
    ran = subprocess.run([sys.executable, "-c", LACKING], capture_output=True, text=True, check=True)
    assert "apt-get install libpango-1.0-0" in ran.stdout
