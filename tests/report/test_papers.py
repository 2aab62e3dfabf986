"""The papers as a whole: all are written, whatever the appraisal holds."""

import appraisals
import pypdfium2
import pytest

from saltglaze.errors import InputError
from saltglaze.report.papers import write_papers


def pdf_text(path):
    document = pypdfium2.PdfDocument(path)
    pages = [page.get_textpage().get_text_bounded() for page in document]
    document.close()
    return "\n".join(pages)


def test_every_paper_of_a_rich_job_is_written(tmp_path):
    appraisal = appraisals.rich()
    appraisals.draw_stills(appraisal, tmp_path)
    paths = write_papers(appraisal, tmp_path)
    assert {p.name for p in paths} == {
        "report.pdf",
        "report.html",
        "sheet.svg",
        "sheet.pdf",
        "dig-sheets.pdf",
        "estimate.pdf",
        "return-card.pdf",
        "records-letter.pdf",
        "job-summary.txt",
    }
    assert all(p.stat().st_size > 0 for p in paths)


def test_page_one_answers_the_owner(tmp_path):
    write_papers(appraisals.rich(), tmp_path)
    first = pdf_text(tmp_path / "report.pdf").split("The drawing")[0]
    for part in ("69 ± 2 ft", "City of Lower Fennel", "December 19, 2026", "$7,500", "act now"):
        assert part in first
    assert "made-up example" in first


def test_unknown_units_are_refused(tmp_path):
    with pytest.raises(InputError, match="units"):
        write_papers(appraisals.bare(), tmp_path, units="furlongs")
