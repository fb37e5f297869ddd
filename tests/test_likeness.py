"""What an estimated size looks like: named sizes by hand, and the chance of each."""

import numpy as np
import pytest

from brasscap.networks.likeness import Named, likenesses
from brasscap.networks.likeness_frames import FrameEpoch, epoch_names, frame_names
from brasscap.networks.likeness_names import (
    HeightBooked,
    distance_names,
    exchanged_digits,
    height_names,
    known_height_names,
    other_mark_names,
    survey_foot_names,
)


def size_of(names, words):
    (one,) = [one for one in names if one.words == words]
    return one.size


# Named sizes


def test_a_height_in_feet_booked_as_metres():
    """6.5617 ft are 2.0000 m: 4.5617 m too large, 0.6952 of the number (0.3048 m)."""
    names = height_names(HeightBooked(read=6.5617, reduced=6.5617))
    size = size_of(names, "a number in feet booked as metres")
    assert size[0] == pytest.approx(6.5617 - 2.0, rel=0, abs=1e-5)


def test_a_height_in_metres_booked_as_feet():
    """2 taken as feet is 0.6096 m: 1.3904 m too small, 2.2808 of what was reduced."""
    names = height_names(HeightBooked(read=0.6096, reduced=0.6096))
    size = size_of(names, "a number in metres booked as feet")
    assert size[0] == pytest.approx(0.6096 - 2.0, rel=0, abs=1e-12)


def test_a_slant_height_taken_as_vertical():
    """1.500 m on a radius of 0.170 m is √(2.25 − 0.0289) = 1.4903 m: 9.7 mm."""
    booked = HeightBooked(read=1.5, reduced=1.5, slant_radius=0.17, offset=0.0)
    size = size_of(height_names(booked), "a slant height taken as vertical")
    assert size[0] == pytest.approx(0.0097, rel=0, abs=5e-5)


def test_a_vertical_height_reduced_as_slant_is_too_small():
    """The other way about: 1.4903 is used where 1.5 was true."""
    booked = HeightBooked(read=1.5, reduced=1.49034, slant=True, slant_radius=0.17)
    size = size_of(height_names(booked), "a vertical height reduced as slant")
    assert size[0] == pytest.approx(-0.0097, rel=0, abs=5e-5)


def test_the_gap_between_two_readings_and_the_wrong_reference_point():
    """1.543 m against 4.977 ft = 1.5170 m: 26 mm; the slant mark is 63 mm up."""
    second = 4.977 * 0.3048
    booked = HeightBooked(
        read=1.543,
        reduced=1.543,
        second=second,
        rounding=0.0005 * 0.3048,
        slant_radius=0.17,
        offset=0.063,
    )
    names = height_names(booked)
    gap = size_of(names, "the gap to the second reading of the height")
    assert gap[0] == pytest.approx(0.0260, rel=0, abs=5e-5)
    for words, size in (("much", 0.063), ("little", -0.063)):
        found = size_of(names, f"the slant mark for the reference point too {words}")
        assert found[0] == size
    assert not [one for one in names if "at the end" in one.words]


def test_digits_exchanged():
    """1.673 for 1.637 is 36 mm; in feet 0.3048 of it; equal digits give nothing."""
    (size,) = size_of(exchanged_digits("1.673"), "digits exchanged, 1.673 for 1.637")
    assert size == pytest.approx(0.036, rel=0, abs=1e-12)
    (size,) = size_of(
        exchanged_digits("4.977", 0.3048), "digits exchanged, 4.977 for 9.477"
    )
    assert size == pytest.approx(-4.5 * 0.3048, rel=1e-12)
    assert exchanged_digits("4.777")[1:] == []
    assert exchanged_digits("") == exchanged_digits("none") == []


def test_poles_and_prisms_are_tried_both_ways():
    """Sections of 200, 250, 500 mm; constants of 30, 34.4, 17.5, 4.4 mm."""
    heights = {
        round(1000 * float(one.size[0]), 1)
        for one in height_names(HeightBooked(1.5, 1.5))
        if "pole" in one.words
    }
    assert heights == {200, -200, 250, -250, 500, -500}
    constants = {
        round(1000 * float(one.size[0]), 1) for one in distance_names(float("nan"))
    }
    assert constants == {s * c for s in (1, -1) for c in (30, 34.4, 17.5, 4.4)}


def test_a_geoid_height_for_an_ellipsoidal_one():
    """N = −29.3 m: H booked as h is 29.3 m too high, h booked as H as much too low."""
    names = known_height_names(182.4, -29.3)
    above = size_of(names, "a height above the geoid booked as ellipsoidal")
    assert above[0] == pytest.approx(29.3, rel=1e-12)
    below = size_of(names, "an ellipsoidal height booked as above the geoid")
    assert below[0] == pytest.approx(-29.3, rel=1e-12)
    assert len(known_height_names(182.4, float("nan"))) == 2


def test_two_feet_are_two_millionths_apart():
    """2.0 ppm, 0.61 m in a million feet (NIST/NGS notice of October 2020)."""
    one, other = survey_foot_names(1e6 * 0.3048, 1e6 * 0.3048)
    np.testing.assert_allclose(one.size, [0.61, 0.61], rtol=0, atol=0.005)
    np.testing.assert_allclose(one.size, -other.size, rtol=1e-5)


def test_the_nearest_other_marks_first():
    here, others = (
        np.array([0.0, 0.0, 0.0]),
        np.array([[9, 0, 0], [0, 2, 1], [0, 0, 0]]),
    )
    names = other_mark_names(here, others * 1.0, ["T1", "T2", "SAME"], most=1)
    assert [one.words for one in names] == ["it stood on T2"]
    assert names[0].size.tolist() == [0, -2, -1]


# Frames and epochs

DENVER = np.array([40.0, -105.0, 1600.0])


def helmert(xyz, years):
    """Return ITRF2014 to NAD 83 (2011), by hand, at years after 2010.0.

    Parameters of EPSG, published by NGS (from memory): metres, milliarcseconds,
    parts per billion, and their yearly rates; coordinate frame rotation.
    """
    shift = np.array([1.00530, -1.90921, -0.54157])
    shift = shift + years * np.array([0.00079, -0.00060, -0.00144])
    turn = np.array([26.78138, -0.42027, 10.93206])
    turn = turn + years * np.array([0.06667, -0.75744, -0.05133])
    rx, ry, rz = turn * np.pi / 180 / 3600 / 1000
    scale = (0.36891 - 0.07201 * years) * 1e-9
    rotation = np.array([[1, rz, -ry], [-rz, 1, rx], [ry, -rx, 1]])
    return shift + (1 + scale) * rotation @ xyz


@pytest.mark.parametrize("epoch", [2010.0, 2022.5])
def test_a_frame_taken_for_another(epoch):
    """ITRF2014 booked as NAD 83 (2011): against the fourteen parameters, by hand."""
    from brasscap.networks import GeodeticFrame

    (name,) = frame_names(
        DENVER, FrameEpoch(6319, 2010.0), [FrameEpoch(7912, epoch, "ITRF2014")]
    )
    assert name.words == "coordinates of ITRF2014"
    frame = GeodeticFrame(6319, 2010.0)
    (xyz,) = frame.cartesian(DENVER[None])
    true = helmert(xyz, epoch - 2010.0)
    expected = frame.axes(true[None])[0] @ (xyz - true)
    np.testing.assert_allclose(name.size, expected, rtol=0, atol=1e-4)
    # One to two metres, as the trade knows it.
    assert 1.0 < np.linalg.norm(name.size) < 2.5


def test_an_epoch_taken_for_another():
    """Ten years of a plate: by hand, the difference of two transformations."""
    from brasscap.networks import GeodeticFrame

    (name,) = epoch_names(DENVER, FrameEpoch(7912, 2020.0), [2010.0], through=6319)
    (xyz,) = GeodeticFrame(7912, 2020.0).cartesian(DENVER[None])
    # What NAD 83 sees of the same numbers ten years later is what the mark moves.
    moved = helmert(xyz, 0.0) - helmert(xyz, 10.0)
    size = -GeodeticFrame(7912, 2020.0).axes(xyz[None])[0] @ moved
    np.testing.assert_allclose(name.size, size, rtol=0, atol=1e-3)
    assert 0.10 < np.linalg.norm(name.size) < 0.25


def test_a_frame_to_which_no_way_is_known_is_left_out():
    """The same frame is no error; from a frame of heights alone there is no way."""
    job = FrameEpoch(6319, 2010.0)
    assert frame_names(DENVER, job, [FrameEpoch(6319, 2010.0)]) == []
    assert frame_names(DENVER, job, [FrameEpoch(5709, 2010.0)]) == []


# Likeness and chance


def named(*sizes):
    return [Named(f"{size}", np.array([size])) for size in sizes]


def test_a_size_within_its_own_limits_is_like():
    """26 ± 8 mm: 99 % is ± 20.6 mm, so 30 and 6 mm are like it and 50 mm is not."""
    found = likenesses(
        np.array([0.026]), np.array([[64e-6]]), named(0.030, 0.006, 0.050)
    )
    assert [like.words for like in found] == ["0.03", "0.006"]
    near = found[0]
    # Nearer (4 mm) than its sd of 8 mm can tell: 8 of the 52 mm considered.
    assert near.chance == pytest.approx(8 / 52, rel=1e-9)
    assert near.chance_of_any == pytest.approx(1 - (1 - 8 / 52) ** 3, rel=1e-9)
    assert (near.names_tried, near.range) == (3, pytest.approx(0.052))
    # 20 mm off: 20 of 52.
    assert found[1].chance == pytest.approx(20 / 52, rel=1e-9)


def test_an_accident_is_as_likely_as_is_said():
    """Sizes at random over the range: the share as near to a name as the chance says.

    100 000 of them, so that the share is known to 0.4 % (three sds).
    """
    rng = np.random.default_rng(20240229)
    for count, sd in ((1, 0.004), (2, 0.004), (3, 0.010)):
        name = np.zeros(count)
        name[0] = 0.030
        found = name + 0.001
        (like,) = likenesses(found, sd**2 * np.eye(count), [Named("it", name)])
        # A ball about the size found, so that the name's window is inside of it.
        ways = rng.normal(size=(100_000, count))
        ways /= np.linalg.norm(ways, axis=1)[:, None]
        radius = like.range * rng.uniform(size=len(ways)) ** (1 / count)
        random = radius[:, None] * ways
        share = (np.linalg.norm(random - name, axis=1) <= max(like.off, sd)).mean()
        assert share == pytest.approx(like.chance, rel=0, abs=0.004)


def test_a_large_size_known_well_is_hardly_like_by_accident():
    """4.562 ± 0.008 m of a height of 6.5617 m: feet, 1 in 1100 for each name tried."""
    names = height_names(HeightBooked(6.5617, 6.5617, text="6.5617"))
    found = likenesses(np.array([4.560]), np.array([[64e-6]]), names)
    assert [like.words for like in found] == ["a number in feet booked as metres"]
    assert found[0].chance == pytest.approx(0.008 / 9.12, rel=1e-3)
    assert found[0].chance_of_any < 0.02


def test_nothing_is_like_what_cannot_be_judged():
    names = named(0.030)
    assert likenesses(np.array([0.0]), np.array([[1e-6]]), names) == ()
    assert likenesses(np.array([0.03]), np.array([[np.nan]]), names) == ()
    assert likenesses(np.array([0.03]), np.array([[1e-6]]), []) == ()
    assert likenesses(np.array([0.03]), np.array([[1e-6]]), named(np.nan)) == ()


def test_a_place_is_like_another_mark_in_two_components():
    """It stood 5 m off: T3, and not T2, twelve metres away."""
    here, others = np.zeros(2), np.array([[0.0, 12.0], [3.0, 4.0]])
    names = other_mark_names(here, others, ["T2", "T3"])
    found = likenesses(np.array([-3.004, -3.998]), 25e-6 * np.eye(2), names)
    assert [like.words for like in found] == ["it stood on T3"]
    assert found[0].chance < 1e-6
