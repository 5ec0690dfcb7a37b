"""How many frames fit into a time: of one stack, and of each panel of a panorama."""

from hypothesis import given
from hypothesis import strategies as st

from nightglass.gear.body import Body
from nightglass.plan.camera import Pointing, Shot
from nightglass.plan.panorama.area import box
from nightglass.plan.panorama.panorama import Pace, frames_each_within, plan_panorama
from nightglass.plan.stack import StackGoal, frames_within, plan_stack

SHOT = Shot(Body("Loan body", 6.0, 6000, 4000), 24.0, 2.0)


@given(st.floats(0.3, 60.0), st.floats(0.1, 5000.0))
def test_the_stack_that_fits_is_planned_within_the_time_and_one_more_is_not(exposure_s, time_s):
    count = frames_within(time_s, exposure_s)

    def planned_s(frames):
        wish = StackGoal(frames=frames)
        return plan_stack(SHOT, exposure_s, Pointing(45.0, 180.0), 45.0, wish).total_s

    if count == 0:
        assert time_s < exposure_s
    elif count < 40:
        assert planned_s(count) <= time_s + 1e-5
        assert planned_s(count + 1) > time_s - 1e-5


def test_one_frame_each_takes_what_the_plan_says_and_each_round_its_intervals():
    plan = plan_panorama(SHOT, box(180.0, 120.0, 10.0, 40.0), Pace(12.5))
    assert frames_each_within(plan, plan.total_s - 0.1) == 0
    assert frames_each_within(plan, plan.total_s) == 1
    # 12.5 s and 3 s between make 16 whole seconds.
    round_s = 16 * len(plan.frames)
    assert frames_each_within(plan, plan.total_s + round_s - 0.1) == 1
    assert frames_each_within(plan, plan.total_s + round_s) == 2
    assert frames_each_within(plan, plan.total_s + 10 * round_s) == 11
