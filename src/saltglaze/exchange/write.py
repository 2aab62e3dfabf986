"""Write every exchange file of an appraisal, each whole or not at all."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from saltglaze import atomic
from saltglaze.exchange.captions import captions_vtt, chapters_vtt
from saltglaze.exchange.coded import coded_text
from saltglaze.exchange.dxf import dxf_text
from saltglaze.exchange.geojson import geojson_text
from saltglaze.exchange.geopackage import write_geopackage
from saltglaze.exchange.kml import kml_text
from saltglaze.exchange.layers import Layer, map_layers, transformed
from saltglaze.exchange.plain_text import file_stem
from saltglaze.exchange.table import findings_csv
from saltglaze.model.appraisal import Appraisal
from saltglaze.position.frame import LocalFrame

FOLDER: Final = "exchange"
DRAWN: Final = ("plan.dxf", "map.geojson", "map.kml")
PACKAGE: Final = "map.gpkg"
FILM_TEXTS: Final = ("-chapters.vtt", "-captions.vtt")
INVENTED: Final = "Invented data: no real place, person or line."


def write_exchange(appraisal: Appraisal, out: Path) -> tuple[Path, ...]:
    """Write the exchange files below ``out/exchange`` and return their paths.

    Maps need something to draw, and GeoJSON and KML an origin on the earth; what
    cannot be written is left out, and a former one of that name is taken away.
    """
    folder = out / FOLDER
    layers = map_layers(appraisal)
    written = []
    for name, text in _texts(appraisal, layers):
        atomic.write_text(folder / name, text)
        written.append(folder / name)
    if layers:
        atomic.write_bytes(folder / PACKAGE, _geopackage(appraisal, layers))
        written.append(folder / PACKAGE)
    _take_away_former(folder, written)
    return tuple(written)


def _take_away_former(folder: Path, written: Sequence[Path]) -> None:
    """Remove files of ours that a former job left; a file of someone else's stays."""
    for path in folder.iterdir():
        ours = path.name in (*DRAWN, PACKAGE) or path.name.endswith(FILM_TEXTS)
        if ours and path not in written and path.is_file():
            path.unlink()


def _texts(appraisal: Appraisal, layers: tuple[Layer, ...]) -> Iterator[tuple[str, str]]:
    title = appraisal.job.title or appraisal.job.id
    title = f"{title} ({INVENTED})" if appraisal.job.invented else title
    note = INVENTED if appraisal.job.invented else ""
    plan, geojson, kml = DRAWN
    if layers:
        yield plan, dxf_text(layers, appraisal)
    if layers and appraisal.job.origin:
        on_earth = transformed(layers, LocalFrame(appraisal.job.origin).to_lonlat)
        yield geojson, geojson_text(on_earth, title)
        yield kml, kml_text(on_earth, title)
    yield "findings.csv", findings_csv(appraisal)
    yield "en13508-2.txt", coded_text(appraisal)
    chapters, captions = FILM_TEXTS
    for run in appraisal.job.runs:
        yield f"{file_stem(run.id)}{chapters}", chapters_vtt(appraisal, run.id, note)
    for talk in appraisal.job.talks:
        stem = file_stem(talk.run_id)
        yield f"{stem}{captions}", captions_vtt(talk.transcript.cues, note)


def _geopackage(appraisal: Appraisal, layers: tuple[Layer, ...]) -> bytes:
    origin = appraisal.job.origin
    if origin:
        layers = transformed(layers, LocalFrame(origin).to_lonlat)
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "map.gpkg"
        write_geopackage(layers, path, on_earth=origin is not None)
        return path.read_bytes()
