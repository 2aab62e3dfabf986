"""The report as a page: self-contained, safe, and sound for people who do not see it."""

import re

import appraisals
import pypdfium2
import pytest

from saltglaze.report.papers import write_papers
from saltglaze.report.wording import Words

CHROMIUM = [
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-quic",
    "--disable-sync",
    "--no-first-run",
]


@pytest.fixture(scope="module")
def rich_page(tmp_path_factory):
    out = tmp_path_factory.mktemp("rich")
    appraisal = appraisals.rich()
    appraisals.draw_stills(appraisal, out)
    write_papers(appraisal, out)
    return out / "report.html"


def test_the_page_needs_nothing_from_outside(rich_page):
    text = rich_page.read_text()
    assert not re.search(r"""(?:src|href)=["'](?!data:|#)""", text)
    assert "<script" not in text
    assert "url(http" not in text
    assert "@import" not in text


def test_every_finding_is_an_article_with_its_number(rich_page):
    text = rich_page.read_text()
    for number in range(1, 11):
        assert f'id="finding-{number}"' in text


def test_names_cannot_break_out_of_the_page(tmp_path):
    write_papers(appraisals.hostile(), tmp_path)
    text = (tmp_path / "report.html").read_text()
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert" in text


@pytest.fixture(scope="module")
def browser():
    playwright = pytest.importorskip("playwright.sync_api")
    import shutil

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("chromium is not installed")
    with playwright.sync_playwright() as engine:
        opened = engine.chromium.launch(executable_path=chromium, args=CHROMIUM)
        yield opened
        opened.close()


CASES = {
    "rich": appraisals.rich,
    "nothing known": appraisals.bare,
    "no stations": appraisals.unplaced,
    "right to left": lambda: appraisals.named(appraisals.ARABIC),
    "long names": lambda: appraisals.named(appraisals.LONG),
}


@pytest.mark.browser
@pytest.mark.parametrize(
    ("name", "width", "scheme"),
    [
        ("rich", 1200, "light"),
        ("rich", 1200, "dark"),
        ("rich", 390, "dark"),
        *((name, 390, "light") for name in CASES),
    ],
)
def test_axe_finds_nothing_serious(browser, tmp_path, name, width, scheme):
    from axe_playwright_python.sync_playwright import Axe

    write_papers(CASES[name](), tmp_path)
    page = browser.new_page(
        viewport={"width": width, "height": 844}, bypass_csp=True, color_scheme=scheme
    )
    page.goto((tmp_path / "report.html").as_uri())
    response = Axe().run(page).response
    assert len(response["passes"]) > 10
    found = response["violations"]
    serious = [
        (v["id"], v["nodes"][0]["html"][:120])
        for v in found
        if v["impact"] in ("serious", "critical")
    ]
    page.close()
    assert serious == []


@pytest.mark.browser
@pytest.mark.parametrize("width", [320, 390, 768, 1200])
def test_no_sideways_scrolling_of_the_page(browser, rich_page, width):
    page = browser.new_page(viewport={"width": width, "height": 844})
    page.goto(rich_page.as_uri())
    wide = page.evaluate("document.documentElement.scrollWidth")
    page.close()
    assert wide <= width


@pytest.mark.browser
def test_long_tables_are_read_row_by_row_on_a_phone(browser, rich_page):
    """Each cell is on the screen whole, under the heading of its column."""
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto(rich_page.as_uri())
    cells = page.evaluate(
        """() => [...document.querySelectorAll('table.stack td')].map(td => [
        td.getBoundingClientRect().right, td.scrollWidth - td.clientWidth,
        getComputedStyle(td, '::before').content, td.dataset.head])"""
    )
    page.close()
    assert len(cells) > 20
    for right, hidden, shown, head in cells:
        assert right <= 390
        assert hidden <= 0
        assert head in shown


@pytest.mark.browser
def test_drawings_stand_on_paper_in_the_dark(browser, rich_page):
    """Their inks are for white; the page round them is dark."""
    page = browser.new_page(viewport={"width": 1200, "height": 844}, color_scheme="dark")
    page.goto(rich_page.as_uri())
    under = page.evaluate(
        """() => [...document.querySelectorAll('.drawing, .round, .inline')].map(
        f => getComputedStyle(f).backgroundColor)"""
    )
    body = page.evaluate("() => getComputedStyle(document.body).backgroundColor")
    page.close()
    assert len(under) > 5
    assert set(under) == {"rgb(255, 255, 255)"}
    assert max(int(part) for part in re.findall(r"\d+", body)) < 60


@pytest.mark.browser
@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_printed_the_answers_take_one_page_and_the_sheet_lies_across(browser, rich_page, paper):
    page = browser.new_page()
    page.goto(rich_page.as_uri())
    margin = dict.fromkeys(("top", "bottom", "left", "right"), "15mm")
    document = pypdfium2.PdfDocument(page.pdf(format=paper, margin=margin))
    page.close()
    first, second = (document[n].get_textpage().get_text_bounded() for n in (0, 1))
    assert Words()("ask.what") in first
    assert Words()("ask.unseen") in first
    assert "before any" in first
    assert "The drawing" in second
    assert document[1].get_width() > document[1].get_height()
    document.close()


def test_numbers_are_not_parted_from_their_units(rich_page):
    text = re.sub(r"<svg.*?</svg>|alt=\"[^\"]*\"", "", rich_page.read_text(), flags=re.DOTALL)
    assert "69\u00a0±\u00a02\u00a0ft" in text
    assert not re.search(r"\d (?:ft|psi|in)\b", text)


@pytest.mark.browser
def test_lettering_of_the_sheet_stays_within_its_reckoned_room(browser, rich_page):
    """The browser's own measure of each label against the width the placement reckoned with."""
    from saltglaze.report.sheet.scene import text_width

    page = browser.new_page(viewport={"width": 1200, "height": 844})
    page.goto(rich_page.as_uri())
    measured = page.evaluate(
        """() => [...document.querySelectorAll('.drawing text')].map(t => [t.textContent,
        parseFloat(t.getAttribute('font-size')), t.getAttribute('font-weight') === '700',
        t.getComputedTextLength()])"""
    )
    page.close()
    assert len(measured) > 40
    outgrown = [
        (text, width, text_width(text, size, bold))
        for text, size, bold, width in measured
        if width > text_width(text, size, bold) * 1.03 + 0.1
    ]
    assert outgrown == []
