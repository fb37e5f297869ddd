"""decisions.csv: what each action does to the network, and what is refused."""

import numpy as np
import pytest

from brasscap.io.tables.load import load
from brasscap.networks import InputError
from brasscap.networks.covariances import blocks
from brasscap.networks.example_jobs import example_files

A = 6378137.0
JOB = """schema = 1
[job]
title = "t"
[frame]
kind = "geodetic"
geographic_epsg = 6319
epoch = 2010.0
"""
TABLES = {
    "stations": "station\nA\nB\nC\n",
    "control": (
        "station,use_plan,use_height,x_m,y_m,z_m,sd_north_mm,sd_east_mm,sd_height_mm\n"
        f"A,held,held,{A},0,0,4,4,8\nB,,,{A},200,300,4,4,8\n"
    ),
    "set_ups": (
        "set_up,station,support,session,antenna,tripod,height_m,reading,measured_to\n"
        "S1,A,tripod,D1,ANT,T1,1.500,vertical,reference point\n"
        "S2,B,tripod,D1,ANT,T2,1.600,vertical,reference point\n"
        "S3,C,tripod,D2,BNT,T1,5.000,vertical,reference point\n"
    ),
    "antennas": "antenna,slant_radius_m,offset_m\nANT,0.17,0.04\nBNT,0.17,0.04\n",
    "baselines": (
        "baseline,session,group,from_set_up,to_set_up,dx_m,dy_m,dz_m,sd_x_mm,sd_y_mm,"
        "sd_z_mm,vector_between\n"
        "V1,D1,g,S1,S2,10,200,300,5,5,5,reference points\n"
        "V2,D2,g,S2,S3,1,2,3,5,5,5,reference points\n"
        "V3,D2,h,S1,S3,11,202,303,5,5,5,reference points\n"
    ),
}
HEADER = "decision,who,action,about_kind,about,value,reason,answers_query,supersedes\n"


@pytest.fixture
def job(tmp_path):
    """Return a function that writes the job with decisions and loads it."""

    def write(*decisions: str, **tables: str):
        (tmp_path / "job.toml").write_text(JOB, "utf-8")
        (tmp_path / "covariances.csv").unlink(missing_ok=True)
        for name, text in {**TABLES, **tables}.items():
            (tmp_path / f"{name}.csv").write_text(text, "utf-8")
        rows = [
            f"D{k},AB,{what},because,{more or ','}\n"
            for k, (what, _, more) in enumerate(d.partition("|") for d in decisions)
        ]
        (tmp_path / "decisions.csv").write_text(HEADER + "".join(rows), "utf-8")
        return load(tmp_path)

    return write


def refused(call, *decisions, **tables):
    with pytest.raises(InputError) as caught:
        call(*decisions, **tables)
    return {f.slug: f for f in caught.value.findings if f.verdict == "fault"}


@pytest.mark.parametrize(
    ("about", "used"),
    [
        ("baseline,V2", [True, False, True]),
        ("set-up,S2", [False, False, True]),
        ("session,D2", [True, False, False]),
        ("group,h", [True, True, False]),
        ("tripod,T2", [False, False, True]),
        ("antenna,BNT", [True, False, False]),
    ],
)
def test_leaving_out(job, about, used):
    vectors = job(f"leave-out,{about},").network.vectors
    assert vectors.used.tolist() == used
    assert vectors.name == ("V1", "V2", "V3")


def test_bringing_back(job):
    loaded = job("leave-out,session,D2,", "bring-back,baseline,V3,")
    assert loaded.network.vectors.used.tolist() == [True, False, True]


def test_a_known_mark_left_out_stays_in_view(job):
    known = job("leave-out,known mark,B,").network.known
    assert known.used.tolist() == [True, False]


def test_leaving_out_silences_the_faults_of_the_row(job):
    """The covariance of V2 is no covariance; without V2 the rest can be used."""
    text = TABLES["baselines"].replace("1,2,3,5,5,5", "1,2,3,5,0,5")
    assert "covariance-not-positive" in refused(job, baselines=text)
    loaded = job("leave-out,baseline,V2,", baselines=text)
    assert loaded.network.vectors.used.tolist() == [True, False, True]
    cross = "table,row,row_axis,column,column_axis,cov_mm2\n" + "".join(
        f"baselines,V2,{a},V3,{b},{26 * (a == b)}\n" for a in "xyz" for b in "xyz"
    )
    assert "covariance-not-positive" in refused(job, covariances=cross)
    assert job("leave-out,baseline,V3,", covariances=cross)
    text = TABLES["baselines"].replace("S2,S3,1,2,3", "S2,S9,1,2,3")
    loaded = job("leave-out,baseline,V2,", baselines=text)
    assert loaded.network.vectors.name == ("V1", "V3")
    (note,) = [f for f in loaded.findings if f.slug == "unknown-name"]
    assert (note.verdict, note.mend) == ("note", "left out by decision D0")


@pytest.mark.parametrize(
    ("decision", "plan", "height"),
    [
        ("hold,known mark,B,", "held", "held"),
        ("weight,known mark height,B,", "", "weighted"),
        ("check-only,known mark plan,B,", "check-only", ""),
    ],
)
def test_the_use_of_a_known_mark(job, decision, plan, height):
    known = job(decision).network.known
    assert (known.use_plan[1], known.use_height[1]) == (plan, height)


def test_renaming(job):
    """The set-up stood over D, not C; a name in the field was another's."""
    network = job("rename,set-up,S3,D", stations="station\nA\nB\nC\nD\n").network
    assert network.marks.name[network.set_ups.mark[2]] == "D"
    text = TABLES["set_ups"].replace("S3,C", "S3,SEE")
    assert "unknown-name" in refused(job, set_ups=text)
    network = job("rename,station,SEE,C", set_ups=text).network
    assert network.marks.name[network.set_ups.mark[2]] == "C"
    found = refused(job, "rename,station,SEE,CC", set_ups=text)
    assert "decision-unusable" in found


def test_reversing_a_vector(job):
    plain = job().network.vectors
    turned = job("reverse,baseline,V1,").network.vectors
    assert (turned.start[0], turned.end[0]) == (plain.end[0], plain.start[0])
    assert turned.start_offset[0] == plain.end_offset[0]
    assert turned.delta[0].tolist() == plain.delta[0].tolist()


def test_a_value_and_its_unit(job):
    """5 ift is 1.524 m exactly."""
    offset = job("value,set-up,S3,height_m=1.55").network.vectors.end_offset
    assert offset.tolist() == [1.6, 1.55, 1.55]
    offset = job("value,set-up,S3,height_ift=5").network.vectors.end_offset
    assert offset[1] == 1.524
    loaded = job("unit,set-up,S3,height=ift")
    assert loaded.network.vectors.end_offset[1] == 1.524
    assert "height-looks-like-feet" not in [f.slug for f in loaded.findings]


def test_a_value_mends_the_fault_of_its_cell(job):
    text = TABLES["set_ups"].replace("5.000", "1,5").replace("1,5", '"1,5"')
    assert "decimal-comma" in refused(job, set_ups=text)
    loaded = job("value,set-up,S3,height_m=1.55", set_ups=text)
    assert loaded.network.vectors.end_offset[1] == 1.55
    (note,) = [f for f in loaded.findings if f.slug == "decimal-comma"]
    assert note.mend == "mended by decision D0"


def test_how_a_height_was_read(job):
    """√(1.6² − 0.17²) − 0.04 by hand: 1.5509 m."""
    offset = job("reading,set-up,S2,slant").network.vectors.end_offset
    assert offset[0] == pytest.approx(1.5509, abs=5e-5)


def test_a_multiplier(job):
    vectors = job("multiplier,group,g,plan=2 height=3").network.vectors
    sd = np.sqrt(np.diagonal(blocks(vectors.covariances, 3, 3), axis1=1, axis2=2))
    # At latitude 0, longitude 0 the height is X.
    assert np.allclose(sd[0] * 1000, [15, 10, 10], atol=1e-6)
    assert np.allclose(sd[2] * 1000, [5, 5, 5])


def test_criteria(job):
    loaded = job("criteria,tests,outlier_alpha,0.01", "criteria,,tests_from,estimated")
    assert loaded.network.options.outlier_alpha == 0.01
    assert loaded.network.options.tests_from == "estimated"


def test_accepting_a_query(job):
    """The query keeps its verdict and its name; it is no longer open."""
    (query,) = [f for f in job().findings if f.slug == "height-looks-like-feet"]
    loaded = job(f"accept,set-up,S3,|{query.query},")
    (same,) = [f for f in loaded.findings if f.slug == "height-looks-like-feet"]
    assert (same.verdict, same.query, same.answered_by) == ("query", query.query, "D0")
    assert not same.is_open


def test_a_later_decision_supersedes(job):
    loaded = job("leave-out,baseline,V2,", "hold,known mark,B,|,D0")
    assert loaded.network.vectors.used.all()
    assert [d.in_force for d in loaded.decisions] == [False, True]
    assert "unknown-name" in refused(job, "hold,known mark,B,|,D7")


@pytest.mark.parametrize(
    ("decision", "slug", "likely"),
    [
        ("leave-out,baseline,V22,", "unknown-name", "V2"),
        ("leave-out,base line,V2,", "unknown-kind", "baseline"),
        ("leave-out,session,D9,", "unknown-name", ""),
        ("leave-out,mark,A,", "unknown-kind", ""),
        ("leave-out,known mark plan,B,", "unknown-kind", ""),
        ("hold,baseline,V2,", "unknown-kind", "known mark"),
        ("hold,known mark,C,", "unknown-name", ""),
        ("weight,known mark,B,5 mm", "decision-unusable", ""),
        ("reverse,set-up,S1,", "decision-unusable", ""),
        ("value,set-up,S1,hight_m=1", "decision-unusable", "height_m"),
        ("value,set-up,S1,height=1", "decision-unusable", "height_m"),
        ("value,set-up,S1,height_m=high", "not-a-number", ""),
        ("unit,set-up,S1,height=mm2", "decision-unusable", ""),
        ("reading,set-up,S1,slanted", "decision-unusable", "slant"),
        ("multiplier,group,g,plan=-1", "decision-unusable", ""),
        ("multiplier,group,g,", "decision-unusable", ""),
        ("criteria,tests,alpha,0.1", "decision-unusable", ""),
        ("criteria,tests,power,80", "decision-unusable", ""),
        ("accept,set-up,S1,", "decision-unusable", ""),
        ("rename,baseline,V1,B", "decision-unusable", ""),
    ],
)
def test_what_cannot_be_carried_out(job, decision, slug, likely):
    fault = refused(job, decision)[slug]
    assert (fault.file, fault.row) == ("decisions.csv", 2)
    if likely:
        assert fault.likely == likely


def test_an_unknown_action(job):
    assert refused(job, "drop,baseline,V2,")


def test_a_decision_needs_a_reason_and_who(job, tmp_path):
    job()
    for row in ("D1,,leave-out,baseline,V2,,why,,", "D1,AB,leave-out,baseline,V2,,,,"):
        (tmp_path / "decisions.csv").write_text(f"{HEADER}{row}\n", "utf-8")
        with pytest.raises(InputError):
            load(tmp_path)


def test_a_target_that_only_sights_name_can_be_left_out(tmp_path):
    """Under the name that the report prints; two faces in two rounds go with it."""
    folder = tmp_path / "job"
    for name, content in example_files("mill").items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    (folder / "decisions.csv").write_text(
        "decision,when_utc,who,action,about_kind,about,value,reason\n"
        "D1,2026-11-25T10:00:00Z,ab,leave-out,set-up,"
        "target LOADING DOCK from T2,,height misread\n",
        "utf-8",
    )
    pointings = [
        name
        for some in load(folder).network.sights
        for name, used in zip(some.name, some.used, strict=True)
        if not used
    ]
    assert set(pointings) == {"T2-03", "T2-06", "T2-11", "T2-14"}
