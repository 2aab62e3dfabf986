"""Invented appraisals for the exchange tests: the papers' own, and hostile ones."""

import appraisals as made

from saltglaze.model.appraisal import Appraisal
from saltglaze.model.job import Talk
from saltglaze.model.talk import Cue, Transcript

LONG_NAME = "Ölmühle " + "Wald " * 1000
HOSTILE_TEXTS = (
    "=HYPERLINK(1)",
    "-->",
    "a <b> & \"c\" 'd'; e, f",
    "bell \x07 and escape \x1b[31m",
    "zero \x00 byte",
    "line\nbreak\u2028and\x85more",
    made.HEBREW,
    made.ARABIC,
    made.CHINESE,
    "%%d ^J {\\fArial;x}",
    "#Z",
    LONG_NAME,
)


def told(appraisal: Appraisal, text: str) -> Appraisal:
    """Return the appraisal with ``text`` in every place where a person may write."""
    findings = tuple(
        found.model_copy(
            update={
                "plain": text,
                "owner": text,
                "code": found.code.model_copy(update={"remark": text}),
            }
        )
        for found in appraisal.findings
    )
    job = appraisal.job
    talk = Talk(
        run_id=job.runs[0].id,
        transcript=Transcript(cues=(Cue(start_s=1.0, end_s=4.0, text=text),)),
    )
    parcels = tuple(parcel.model_copy(update={"owner": text}) for parcel in job.parcels)
    marks = tuple(mark.model_copy(update={"name": text}) for mark in job.marks)
    job = job.model_copy(
        update={"title": text, "talks": (talk,), "parcels": parcels, "marks": marks}
    )
    return appraisal.model_copy(update={"findings": findings, "job": job})


def without_origin(appraisal: Appraisal) -> Appraisal:
    """Return the appraisal of a job that stands nowhere on the earth."""
    return appraisal.model_copy(update={"job": appraisal.job.model_copy(update={"origin": None})})


def placed(appraisal: Appraisal) -> list:
    """Return the findings that stand and have a point."""
    return [f for f in appraisal.findings if f.finding.stands and f.place.point is not None]
