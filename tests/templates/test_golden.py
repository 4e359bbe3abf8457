"""Files kept to compare with: a change in what is written shows as a readable difference.

Set ``PANELSCAN_WRITE_GOLDEN=1`` to write them anew after a change that is meant.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import pikepdf
import pytest

from panelscan.model.formats import US_PRINT, format_named
from panelscan.templates.options import TemplateOptions
from panelscan.templates.template import write_template
from tests.templates.readers import ora_files
from tests.templates.samples import NAMED

GOLDEN = Path(__file__).parents[1] / "golden"
NUMBER = re.compile(r"-?\d+\.?\d*")


def svg_text(tmp_path):
    out = tmp_path / "page.svg"
    write_template(NAMED["slanted"], US_PRINT, out, TemplateOptions(lettering=False))
    return out.read_text()


def pdf_text(tmp_path):
    out = tmp_path / "page.pdf"
    write_template(NAMED["bleeding"], format_named("jis-b5"), out, TemplateOptions(lettering=False))
    with pikepdf.open(out) as pdf:
        page = pdf.pages[0]
        boxes = [f"{k} {[float(v) for v in page.obj[k]]}" for k in ("/TrimBox", "/BleedBox")]
        return "\n".join([*boxes, page.Contents.read_bytes().decode()])


def ora_text(tmp_path):
    out = tmp_path / "page.ora"
    write_template(NAMED["inset"], US_PRINT, out, TemplateOptions(ppi=300, masks=True))
    return ora_files(out)["stack.xml"].decode()


CASES = {"slanted.svg": svg_text, "bleeding.pdf.txt": pdf_text, "inset.stack.xml": ora_text}


@pytest.mark.parametrize("name", CASES)
def test_written_as_before(tmp_path, name):
    found = CASES[name](tmp_path)
    kept = GOLDEN / name
    if os.environ.get("PANELSCAN_WRITE_GOLDEN"):
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(found)
    expected = kept.read_text()
    assert NUMBER.sub("#", found) == NUMBER.sub("#", expected)
    # Figures may differ in what no printer shows: a thousandth of a unit.
    ours, theirs = ([float(v) for v in NUMBER.findall(t)] for t in (found, expected))
    assert ours == pytest.approx(theirs, abs=1e-3)
