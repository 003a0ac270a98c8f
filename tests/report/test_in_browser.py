"""A page in a real browser, at the width of a telephone and of a desk."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from days import DAYS, day

from assistant.report import page

PROBE = """<script>
const over = [...document.querySelectorAll("h1,h2,h3,p,li,figcaption,footer,dl")].filter(
  one => one.getBoundingClientRect().right > innerWidth + 1);
document.title = `width ${document.documentElement.scrollWidth} of ${innerWidth}, over ${over.length}, `
  + `pictures ${[...document.querySelectorAll("svg")].filter(one => one.getBoundingClientRect().height > 60).length}`;
</script></body>"""


@pytest.mark.parametrize("width", [500, 1200])
@pytest.mark.parametrize("name", [path.stem for path in DAYS])
def test_nothing_runs_out_of_the_page(tmp_path: Path, name: str, width: int) -> None:
    browser = shutil.which("chromium") or shutil.which("google-chrome")
    if browser is None:
        pytest.skip("there is no browser (Debian: apt-get install chromium)")
    text = page.html(day(name).rows(), name)
    file = tmp_path / "page.html"
    file.write_text(text.replace("</body>", PROBE))
    command = [browser, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path}/browser"]
    command += [f"--window-size={width},900", "--dump-dom", file.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    found = re.search(r"<title>width (\d+) of (\d+), over (\d+), pictures (\d+)</title>", done.stdout)
    assert found is not None
    wide, inner, over, pictures = map(int, found.groups())
    assert wide <= inner
    assert over == 0
    assert pictures == text.count("<svg ")
