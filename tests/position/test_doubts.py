"""Answers beside the first: a good-looking point left aside, and only where it matters."""

from evidence_kit import job, seen, spot, steady

from saltglaze.position.solve import locate


def test_the_last_of_a_few_points_may_be_wrong_and_the_margin_there_says_so():
    # The last point stands 12 m beyond the others: 5 % of points are grossly wrong, so the
    # 95 % margin reaches about as far as the line would without it.
    points = tuple(spot(f"p{s}", s, 0.0, 10.0 * s) for s in (2.0, 6.0, 10.0, 28.0))
    found = (seen("amid", 60.0), seen("far", 281.0))
    answer = locate(job(points), (steady(),), (), found)
    amid, far = (place.ellipse95.semi_major_m for place in answer.places)
    assert far > amid


def test_where_points_abound_none_is_doubted_without_a_reason():
    points = tuple(spot(f"p{s}", s, 0.0, 10.0 * s) for s in range(2, 28, 3))
    answer = locate(job(points), (steady(),), (), (seen("x", 150.0),))
    assert len(answer.position.paths) == 1
    assert all(point.used for point in answer.position.surface)
    assert answer.places[0].alternatives == ()


def test_of_two_points_that_do_not_agree_neither_is_left_aside():
    points = (spot("a", 0.0, 0.0, 50.0), spot("b", 11.3, 0.0, 150.0))
    answer = locate(job(points), (steady(),), (), (seen("x", 100.0),))
    assert all(point.used for point in answer.position.surface)
