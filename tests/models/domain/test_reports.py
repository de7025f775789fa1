from models.domain.foot import MEASUREMENTS
from models.domain.quantities import FIT_SCORES
from models.domain.reports import AFTERWARDS, LONGEST, OPTIONAL_COLUMNS, SOCK, USUAL_COLUMNS

# The columns as the project promises them to those who script against it.
PROMISED = (
    "reporter, foot_length_mm, foot_circumference_mm, heel_diagonal_mm, ankle_circumference_mm, "
    "yarn_weight, stitches_per_10cm, rounds_per_10cm, heel_stitches, plain_rounds, "
    "slow_decrease_rounds, medium_decrease_rounds, fast_decrease_rounds, fit_score"
)
PROMISED_OPTIONAL = "design, size, knitted_on, times_washed, times_worn, notes"


def test_the_columns_of_a_report_are_the_promised_ones_in_order():
    assert ", ".join(USUAL_COLUMNS) == PROMISED


def test_every_promised_optional_column_may_be_there():
    assert set(PROMISED_OPTIONAL.split(", ")) <= set(OPTIONAL_COLUMNS)
    assert not set(OPTIONAL_COLUMNS) & set(USUAL_COLUMNS)


def test_no_number_has_two_meanings():
    names = [quantity.name for quantity in (*MEASUREMENTS, *SOCK, *AFTERWARDS)]
    assert len(names) == len(set(names))


def test_the_fit_score_has_a_word_for_each_of_five_steps():
    # The just-about-right scale of sensory science; most often of 5 steps.
    assert list(FIT_SCORES) == [-2, -1, 0, 1, 2]
    assert FIT_SCORES[0] == "just right"
    assert "shallow" in FIT_SCORES[-2]
    assert "deep" in FIT_SCORES[2]


def test_every_text_column_has_a_longest_length():
    texts = {"reporter", "design", "size", "notes"}
    assert set(LONGEST) == texts
    assert texts <= {*USUAL_COLUMNS, *OPTIONAL_COLUMNS}
