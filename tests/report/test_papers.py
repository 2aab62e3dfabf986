"""The papers as a whole: all are written, whatever the appraisal holds."""

import re

import appraisals
import pypdfium2
import pytest

from saltglaze.errors import InputError
from saltglaze.report.papers import write_papers
from saltglaze.report.wording import Words

FOOT_PT = 20.0 / 25.4 * 72.0
"""The running foot stands below this."""


def pdf_text(path):
    document = pypdfium2.PdfDocument(path)
    pages = []
    for page in document:
        text = page.get_textpage()
        pages.append(text.get_text_bounded().replace("\u00a0", " "))
        text.close()
        page.close()
    document.close()
    return "\n".join(pages)


@pytest.fixture(scope="module")
def rich_papers(tmp_path_factory):
    out = tmp_path_factory.mktemp("papers")
    appraisal = appraisals.rich()
    appraisals.draw_stills(appraisal, out)
    return {p.name: p for p in write_papers(appraisal, out)}


def test_every_paper_of_a_rich_job_is_written(rich_papers):
    assert set(rich_papers) == {
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
    assert all(p.stat().st_size > 0 for p in rich_papers.values())


def test_page_one_answers_the_owner(rich_papers):
    first = pdf_text(rich_papers["report.pdf"]).split("The drawing")[0]
    for part in ("69 ± 2 ft", "City of Lower Fennel", "December 19, 2026", "$7,500", "act now"):
        assert part in first
    assert "made-up example" in first


def test_every_pdf_is_tagged_titled_and_declares_ua_1(rich_papers):
    """ISO 14289-1: a marked structure tree, a title, a language, and pdfuaid:part 1."""
    for name, path in rich_papers.items():
        if not name.endswith(".pdf"):
            continue
        document = pypdfium2.PdfDocument(path)
        assert document.is_tagged()
        assert document.get_metadata_value("Title")
        document.close()
        raw = path.read_bytes()
        assert b"<pdfuaid:part>1</pdfuaid:part>" in raw
        assert b"/Lang" in raw


def test_the_dig_sheet_gives_tapes_coordinates_depth_and_the_call(rich_papers):
    text = pdf_text(rich_papers["dig-sheets.pdf"])
    for part in ("House corner SE", "Hydrant", "45.49", "deep", "Call 811", "gas", "oval"):
        assert part in text


def test_metric_papers_do_not_speak_in_feet(tmp_path):
    base = appraisals.rich()
    items = tuple(
        i.model_copy(
            update={
                "plain": f"63 ft (give or take 2 ft) from the start: {i.plain} It is 8 in wide."
            }
        )
        for i in base.findings
    )
    grade = base.grade.model_copy(update={"plain": "The line needs work: a break at 69 ft."})
    appraisal = base.model_copy(update={"findings": items, "grade": grade})
    write_papers(appraisal, tmp_path / "metric", units="metric", page="a4")
    first = pdf_text(tmp_path / "metric" / "report.pdf").split("Change since last time")[0]
    assert not re.search(r"\d ft", first)
    assert "The line needs work: a break at 21 m." in " ".join(first.split())
    write_papers(appraisal, tmp_path / "us")
    us = pdf_text(tmp_path / "us" / "report.pdf")
    assert "It is 8 in wide." in us
    assert "63 ft (give or take 2 ft)" not in us, "the place is told beside it, once"


@pytest.mark.parametrize("page", ["letter", "a4"])
@pytest.mark.parametrize(
    "make",
    [
        appraisals.rich,
        appraisals.bare,
        lambda: appraisals.many(60),
        lambda: appraisals.named(appraisals.ARABIC),
    ],
)
def test_the_answers_fill_one_page_and_no_more(make, page, tmp_path):
    """All of the owner's questions stand on the first page, and the drawing on the second."""
    write_papers(make(), tmp_path, page=page)
    document = pypdfium2.PdfDocument(tmp_path / "report.pdf")
    first, second = (document[n].get_textpage().get_text_bounded() for n in (0, 1))
    for key in ("what", "how_bad", "where", "whose", "do", "when", "cost", "unseen"):
        assert Words()(f"ask.{key}") in first
    assert "before any digging" in " ".join(first.split())
    assert document[1].get_width() > document[1].get_height()
    assert "The drawing" in second
    document.close()


def test_no_page_of_findings_is_left_half_empty(tmp_path):
    """Cards close up: all pages of findings but the last are filled to below the middle."""
    appraisal = appraisals.many(40)
    appraisals.draw_stills(appraisal, tmp_path)
    write_papers(appraisal, tmp_path)
    document = pypdfium2.PdfDocument(tmp_path / "report.pdf")
    texts = [page.get_textpage().get_text_bounded() for page in document]
    first = next(n for n, text in enumerate(texts) if "What was seen" in text)
    last = next(n for n, text in enumerate(texts) if "Change since last time" in text)
    assert last - first > 5
    for number in range(first, last):
        page = document[number]
        bottoms = [shape.get_bounds()[1] for shape in page.get_objects()]
        assert min(b for b in bottoms if b > FOOT_PT) < 0.35 * page.get_height()
    document.close()


def test_each_dig_has_one_page(rich_papers, tmp_path):
    base = appraisals.rich()
    dig = base.position.digs[0]
    long = tuple(f"Caution {n} that a crew must read before it digs here." for n in range(8))
    digs = tuple(dig.model_copy(update={"cautions": long}) for _ in range(3))
    position = base.position.model_copy(update={"digs": digs})
    write_papers(base.model_copy(update={"position": position}), tmp_path)
    document = pypdfium2.PdfDocument(tmp_path / "dig-sheets.pdf")
    assert len(document) == 3
    document.close()


def test_ids_of_findings_are_told_as_numbers(tmp_path):
    base = appraisals.rich()
    conflict = base.position.conflicts[0].model_copy(update={"item": "finding f-break"})
    position = base.position.model_copy(update={"conflicts": (conflict,)})
    write_papers(base.model_copy(update={"position": position}), tmp_path)
    text = (tmp_path / "report.html").read_text()
    assert "Finding 9 (Break)" in text
    assert "f-break" not in re.sub(r"data-means=\"[^\"]*\"", "", text)


def test_the_estimate_adds_up(rich_papers):
    text = pdf_text(rich_papers["estimate.pdf"])
    for part in ("$6,200", "$1,008", "$325", "$7,533", "Not in the price", "January 15, 2026"):
        assert part in text
    assert "Over 50 years, with upkeep" in " ".join(text.split())


def test_upkeep_is_not_charged_now(tmp_path):
    base = appraisals.rich()
    option = base.remedy.options[0]
    later = option.lines[0].model_copy(
        update={"item": "upkeep of what is left", "cost": 5000.0, "year_of_cost": 1.0}
    )
    changed = option.model_copy(update={"lines": (*option.lines, later)})
    options = (changed, *base.remedy.options[1:])
    remedy = base.remedy.model_copy(update={"options": options})
    write_papers(base.model_copy(update={"remedy": remedy}), tmp_path)
    text = pdf_text(tmp_path / "estimate.pdf")
    assert "$7,533" in text
    assert text.index("To pay now") < text.index("Upkeep of what is left")
    assert "$12,533" not in text


def test_the_letter_asks_the_authority(rich_papers):
    text = pdf_text(rich_papers["records-letter.pdf"])
    assert "City of Lower Fennel" in text
    assert "as-built" in text


@pytest.mark.parametrize(
    "make",
    [
        appraisals.bare,
        appraisals.strip_only,
        appraisals.unplaced,
        lambda: appraisals.many(1),
        lambda: appraisals.edited(appraisals.rich()),
        lambda: appraisals.rich(3.0),
        lambda: appraisals.named(appraisals.LONG),
        lambda: appraisals.named(appraisals.HEBREW),
        lambda: appraisals.named(appraisals.ARABIC),
        lambda: appraisals.named(appraisals.CHINESE),
        appraisals.hostile,
    ],
)
def test_no_paper_prints_a_blank_of_the_program(make, tmp_path):
    for path in write_papers(make(), tmp_path, units="metric", page="a4"):
        text = pdf_text(path) if path.suffix == ".pdf" else path.read_text()
        for blank in ("None", "nan ", "{", "unknown_because"):
            if blank == "{" and path.suffix in (".html", ".svg"):
                continue
            if blank == "{" and make is appraisals.hostile:
                continue
            assert blank not in text, path.name


def test_three_hundred_findings_are_all_in_the_report(tmp_path):
    write_papers(appraisals.many(300), tmp_path)
    text = (tmp_path / "report.html").read_text()
    assert all(f'id="finding-{n}"' in text for n in range(1, 301))
    assert (tmp_path / "report.pdf").stat().st_size < 8e6


def test_missing_stills_are_said(tmp_path):
    write_papers(appraisals.rich(), tmp_path)
    text = (tmp_path / "report.html").read_text()
    assert text.count("missing from the job folder") == 9
    assert text.count("No picture was taken") == 1


def test_a_still_outside_the_folder_is_not_read(tmp_path):
    appraisal = appraisals.rich()
    still = appraisal.stills[0].model_copy(update={"path": "../secret.jpg"})
    out = tmp_path / "out"
    appraisals.draw_stills(appraisal, tmp_path)
    (tmp_path / appraisal.stills[0].path).rename(tmp_path / "secret.jpg")
    write_papers(appraisal.model_copy(update={"stills": (still,)}), out)
    assert "outside the job folder" in (out / "report.html").read_text()


def test_a_broken_still_is_said(tmp_path):
    appraisal = appraisals.rich()
    path = tmp_path / appraisal.stills[0].path
    path.parent.mkdir()
    path.write_bytes(b"\xff\xd8\xff not a picture")
    write_papers(appraisal, tmp_path)
    assert "could not be read" in (tmp_path / "report.html").read_text()


def test_a_rejected_finding_is_left_out_and_a_correction_is_named(tmp_path):
    write_papers(appraisals.edited(appraisals.rich()), tmp_path)
    text = (tmp_path / "report.html").read_text()
    assert "Lid cross-threaded" in text
    assert "1 drafted finding was turned down by T. Okonjo: a shadow" in text
    assert "Corrected by T. Okonjo" in text
    assert "The iron pipe is rusted" not in text


def test_the_same_record_gives_the_same_papers(tmp_path):
    one = write_papers(appraisals.rich(), tmp_path / "a")
    two = write_papers(appraisals.rich(), tmp_path / "b")
    for first, second in zip(one, two, strict=True):
        assert first.read_bytes() == second.read_bytes(), first.name


def test_papers_no_longer_true_are_taken_away(tmp_path):
    write_papers(appraisals.rich(), tmp_path)
    assert (tmp_path / "dig-sheets.pdf").exists()
    written = write_papers(appraisals.bare(), tmp_path)
    assert not (tmp_path / "dig-sheets.pdf").exists()
    assert {p.name for p in written} == {p.name for p in tmp_path.glob("*.*")}


def test_invented_data_is_said_in_every_paper(rich_papers):
    for name, path in rich_papers.items():
        text = pdf_text(path) if path.suffix == ".pdf" else path.read_text()
        assert "Invented data" in text, name


@pytest.mark.parametrize("field", ["units", "page", "language"])
def test_unknown_settings_are_refused(tmp_path, field):
    with pytest.raises(InputError, match="no "):
        write_papers(appraisals.bare(), tmp_path, **{field: "furlong"})
