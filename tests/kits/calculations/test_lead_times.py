"""Lead times learned from receipts, against posterior means worked out by integration with scipy."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from kits.calculations.lead_times import blend, learn_lead_times, words_of_lead_time

DAYS = st.lists(st.floats(1, 90), min_size=1, max_size=8)


class TestDrawingTowardsWhatIsKnown:
    @pytest.mark.parametrize("values", [[50.0], [44.0, 61.0], [30.0, 33.0, 39.0, 41.0, 35.0]])
    def test_the_mean_is_that_of_a_normal_posterior(self, values):
        """Bayes' rule by numbers: likelihood of a normal with deviation 6 times a normal prior worth four of it; the
        integrals are scipy's."""
        prior = stats.norm(42, 6 / math.sqrt(4))

        def density(mean):
            return prior.pdf(mean) * np.prod(stats.norm.pdf(values, mean, 6))

        whole, _ = integrate.quad(density, 0, 90, points=[42, np.mean(values)])
        moment, _ = integrate.quad(lambda mean: mean * density(mean), 0, 90, points=[42, np.mean(values)])
        assert blend(values, prior_mean=42, prior_variance=36, worth=4).mean == pytest.approx(moment / whole, rel=1e-7)

    @pytest.mark.parametrize("values", [[50.0], [44.0, 61.0], [30.0, 33.0, 39.0, 41.0]])
    def test_the_variance_is_the_scale_of_the_posterior_with_both_unknown(self, values):
        """Normal data, mean and variance unknown, normal-inverse-chi-square prior worth 4: the posterior mean of the
        variance is scale * v / (v - 2) with v = 4 + n (Gelman et al., Bayesian Data Analysis, section 3.3; value from
        memory). The left side is integrated here on a grid with scipy's densities."""
        worth, mean0, variance0 = 4, 42.0, 36.0
        means = np.linspace(-60, 150, 1501)[:, None]
        variances = np.geomspace(0.5, 60000, 4001)[None, :]
        prior = stats.invgamma.pdf(variances, worth / 2, scale=worth * variance0 / 2)
        prior = prior * stats.norm.pdf(means, mean0, np.sqrt(variances / worth))
        joint = prior * np.prod([stats.norm.pdf(one, means, np.sqrt(variances)) for one in values], axis=0)
        over_means = integrate.simpson(joint, x=means[:, 0], axis=0)
        whole = integrate.simpson(over_means * variances[0], x=np.log(variances[0]))
        moment = integrate.simpson(over_means * variances[0] ** 2, x=np.log(variances[0]))
        degrees = worth + len(values)
        scale = blend(values, prior_mean=mean0, prior_variance=variance0, worth=worth).variance
        assert scale * degrees / (degrees - 2) == pytest.approx(moment / whole, rel=1e-3)

    @given(values=DAYS)
    @settings(deadline=None, max_examples=25)
    def test_many_receipts_speak_for_themselves(self, values):
        many = values * 4000
        found = blend(many, prior_mean=42, prior_variance=36)
        assert found.mean == pytest.approx(np.mean(many), abs=1.0)
        assert math.sqrt(found.variance) == pytest.approx(np.std(many), abs=2.0)

    @given(values=DAYS)
    @settings(deadline=None, max_examples=25)
    def test_the_mean_lies_between_what_came_and_what_was_known(self, values):
        found = blend(values, prior_mean=42, prior_variance=36).mean
        low, high = sorted([42.0, float(np.mean(values))])
        assert low - 1e-9 <= found <= high + 1e-9

    def test_a_prior_worth_nothing_is_refused(self):
        with pytest.raises(ValueError, match="worth something"):
            blend([1.0], prior_mean=42, prior_variance=36, worth=0)


class TestLeadTimesOfASupplier:
    """Kit and seal are agreed at 42 and 20 days; the supplier is ten days late with kits."""

    agreed = {"kit": (42.0, 6.0), "seal": (20.0, 3.0)}

    def test_where_nothing_came_the_agreed_terms_stand(self):
        found = learn_lead_times({}, self.agreed)
        assert (found["kit"].mean_days, found["kit"].sd_days) == (42.0, 6.0)
        assert found["kit"].source == "agreed"
        assert found["kit"].weight_of_agreed == 1.0

    def test_an_item_of_which_nothing_came_takes_a_share_of_the_suppliers_lateness(self):
        """Four receipts of kits, ten days late each, weigh as much as the terms: half of ten days."""
        found = learn_lead_times({"kit": [52.0] * 4}, self.agreed)
        assert found["seal"].mean_days == pytest.approx(25.0)
        assert found["seal"].weight_of_supplier == 0.5
        assert found["seal"].weight_of_item == 0.0
        assert found["seal"].source == "blended"

    def test_the_items_own_receipts_count_on_top(self):
        """Prior 42 + 5 worth four, four receipts of 52: 49.5."""
        kit = learn_lead_times({"kit": [52.0] * 4}, self.agreed)["kit"]
        assert kit.mean_days == pytest.approx(49.5)
        assert (kit.weight_of_item, kit.weight_of_supplier, kit.weight_of_agreed) == (0.5, 0.25, 0.25)

    def test_the_mean_is_what_the_weights_say(self):
        receipts = {"kit": [52.0, 49.0, 61.0], "seal": [31.0]}
        found = learn_lead_times(receipts, self.agreed)
        lateness = np.mean([10.0, 7.0, 19.0, 11.0])
        for key, days in receipts.items():
            one = found[key]
            agreed = self.agreed[key][0]
            expected = (
                one.weight_of_item * np.mean(days)
                + one.weight_of_supplier * (agreed + lateness)
                + one.weight_of_agreed * agreed
            )
            assert one.mean_days == pytest.approx(expected, rel=1e-12)
            assert one.weight_of_item + one.weight_of_supplier + one.weight_of_agreed == pytest.approx(1.0)

    def test_many_receipts_are_called_observed(self):
        kit = learn_lead_times({"kit": [52.0, 48.0] * 20}, self.agreed)["kit"]
        assert kit.source == "observed"
        assert kit.mean_days == pytest.approx(50, abs=0.5)

    def test_without_terms_the_suppliers_mean_stands_in(self):
        found = learn_lead_times({"kit": [50.0], "ring": [10.0, 14.0]}, {"kit": (42.0, 6.0)})
        assert found["ring"].mean_days == pytest.approx((2 * 12 + 4 * np.mean([50, 10, 14])) / 6)
        assert found["ring"].agreed_days is None
        assert found["ring"].source == "observed"

    def test_receipts_that_differ_more_than_agreed_widen_the_spread(self):
        steady = learn_lead_times({"kit": [42.0] * 6}, self.agreed)["kit"].sd_days
        wild = learn_lead_times({"kit": [20.0, 70.0, 35.0, 60.0, 25.0, 42.0]}, self.agreed)["kit"].sd_days
        assert steady < 6.0 < wild

    def test_the_supplier_as_a_whole_stands_under_no_item(self):
        found = learn_lead_times({"kit": [52.0] * 4}, self.agreed)[None]
        assert found.received == 4
        assert found.mean_days == pytest.approx((4 * 52 + 4 * 31) / 8)

    def test_goods_do_not_come_before_they_are_ordered(self):
        with pytest.raises(ValueError, match="before they are ordered"):
            learn_lead_times({"kit": [-1.0]}, self.agreed)


class TestWords:
    agreed = {"kit": (42.0, 6.0)}

    def test_agreed_and_learned_stand_in_one_sentence(self):
        kit = learn_lead_times({"kit": [52.0] * 4}, self.agreed)["kit"]
        assert words_of_lead_time(kit) == (
            "42 days were agreed; 4 receipts took 52 days on average. Counted on: 50 days, give or take 5."
        )

    def test_where_nothing_came_that_is_said(self):
        kit = learn_lead_times({}, self.agreed)["kit"]
        assert words_of_lead_time(kit) == "42 days were agreed; nothing has come yet to tell otherwise."
