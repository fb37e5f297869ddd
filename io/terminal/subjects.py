"""What ``check --only`` may be asked about: subjects, and the findings of each."""

SUBJECTS: dict[str, str] = {
    "job": """not-a-job no-such-folder job-missing toml-not-understood key-missing
        key-without-effect unknown-key unknown-section wrong-type not-a-value
        schema-not-known group-not-used criteria-changed criteria-unreadable
        evidence-changed evidence-missing dimension-inferred kind-not-in-dimension""",
    "files": """cannot-read changed-meanwhile empty-file file-cut-off more-findings
        no-rows
        wrong-encoding mixed-separators ragged-row quotes-unbalanced
        column-without-name duplicate-column row-commented-out too-many-columns
        unknown-table unknown-column column-not-there column-not-mapped
        row-not-mapped missing-column missing-value word-not-known
        table-not-used kind-not-adjusted not-sinex sinex-version block-not-closed
        not-gvx xml-not-well-formed
        count-differs parameter-twice parameters-not-imported several-solutions""",
    "units": """unit-missing unit-unknown unit-wrong unit-in-cell unit-not-metre
        foot-not-named height-looks-like-feet rise-looks-like-feet
        angles-look-like-gon angles-look-like-packed-dms dms-packed
        sd-looks-like-variance sd-as-variance""",
    "numbers": """not-a-number not-a-value decimal-comma thousands-separator
        number-too-large not-whole out-of-range""",
    "angles": """not-an-angle dms-packed dms-out-of-range angles-look-like-gon
        angles-look-like-packed-dms zenith-from-horizon""",
    "times": "not-a-time time-not-utc",
    "names": """unknown-name duplicate-name name-too-long name-not-printable
        name-has-odd-blanks name-has-blanks-around names-alike names-one-place
        name-two-places stamping-differs no-marks no-observation ends-differ
        ends-equal vector-to-itself pointing-to-itself""",
    "vectors": """vector-to-itself vector-axes vector-between-not-stated ends-differ
        curvature-neglected origin-place-assumed height-used-not-stated
        moved-to-booked-height trivial-baseline""",
    "set-ups": """support-not-known set-up-without-station set-up-missing
        forced-centring-differs no-set-ups antenna-not-known reading-not-stated""",
    "heights": """height-used-not-stated moved-to-booked-height
        height-looks-like-feet readings-disagree reading-contradicts slant-too-short
        antenna-not-known height-missing height-twice reading-not-stated
        heights-differ height-datum-differs height-datum-not-stated geoid-not-stated
        geoid-sd-not-stated geoid-file-missing undulation-missing
        undulation-needs-benchmarks held-height-on-unknown-geoid
        position-height-on-unknown-geoid deflections-used deflection-missing
        undulation-about
        held-height-weighted curvature-neglected rise-looks-like-feet""",
    "frames": """frame-differs frame-unknown frame-unusable frame-not-stated
        epoch-differs epoch-not-given epoch-unreadable operation-unusable
        grid-not-stated beyond-curved-limit axes-swapped vector-axes
        position-outside-grid position-not-on-earth origin-place-assumed""",
    "control": """use-not-stated use-without-value held-height-weighted no-known-mark
        position-missing position-twice position-outside-grid position-not-on-earth
        axes-swapped""",
    "positions": """position-use positions-not-independent positions-partly-dependent
        no-coordinates coordinate-missing coordinate-twice solution-constrained""",
    "sessions": "trivial-baseline session-covariance-incomplete",
    "covariances": """sd-missing sd-is-zero sd-from-95 sd-looks-like-variance
        covariance-not-given covariance-not-positive covariance-contradicts
        covariance-axes covariance-own-block session-covariance-incomplete
        positions-not-independent positions-partly-dependent sd-as-variance
        matrix-wrong-size matrix-not-symmetric matrix-label-not-understood
        matrix-label-differs matrix-kind-unknown matrix-element-outside
        matrix-corner-not-understood sd-differs-from-matrix""",
    "connections": "hangs-loose piece-floats trivial-baseline",
    "faces": """faces-disagree face-mixed faces-meaned round-drifted
        orientation-one-pointing zenith-from-horizon zenith-missing""",
    "instruments": """air-taken-as-dry atmosphere-data-missing atmosphere-not-stated
        prism-constant-missing prism-constant-not-stated
        instrument-constant-applied instrument-unknown-with-sd
        instrument-scale-twice""",
    "levels": "run-reversed runs-disagree rise-looks-like-feet",
    "shots": """no-shots base-not-in-job base-without-mark unknown-shot two-sources
        shot-heights-mixed tilt-without-azimuth tilt-without-length
        tilt-sd-not-stated shot-before-base shot-after-base shot-sd-not-stated
        initialisation-not-booked side-not-stated tape-sd-not-stated
        construction-circle polar-not-in-network polar-not-oriented
        unknown-set field-test-value-differs""",
    "records": "changed-meanwhile record-changed record-not-there",
    "plans": """no-plan no-approximate-position no-expected-precision
        clock-not-understood crew-times done-file drive-mark proposal-incomplete
        proposal-mark proposal-window""",
    "trials": "trial-change trial-of-another-state trial-unreadable",
    "specifications": "spec-missing pairs-file pairs-none value-not-understood",
    "decisions": "decision-unusable unknown-kind",
}
"""Subject to the names of its findings; a finding may belong to several."""


def slugs_of(subjects: str) -> set[str]:
    """Return the findings of some subjects, comma between them.

    Raises
    ------
    CommandError
        A subject that there is not.

    Examples
    --------
    >>> sorted(slugs_of("times, levels"))[:2]
    ['not-a-time', 'rise-looks-like-feet']
    """
    from brasscap.arguments import nearest, wrong

    wanted = [subject.strip() for subject in subjects.split(",")]
    for subject in wanted:
        if subject not in SUBJECTS:
            raise wrong(
                f"check --only {subject!r}: no such subject"
                f"{nearest(subject, list(SUBJECTS))} (there are {', '.join(SUBJECTS)})"
            )
    return {slug for subject in wanted for slug in SUBJECTS[subject].split()}
