"""The address that stands in labels is checked when the service starts."""

import pytest

from services.settings.environment import ConfigurationError, public_address


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("https://pumps.example.org", "https://pumps.example.org"),
        ("https://example.org/pumps/", "https://example.org/pumps"),
        ("http://127.0.0.1:8800", "http://127.0.0.1:8800"),
    ],
)
def test_an_address_loses_the_slash_at_its_end(given, kept):
    assert public_address(given) == kept


@pytest.mark.parametrize(
    "given", ["", "pumps.example.org", "ftp://x.org", "https://", "https://x.org/?a=1", "https://me@x.org"]
)
def test_what_is_no_address_of_a_service_is_refused(given):
    with pytest.raises(ConfigurationError, match="PUBLIC_ADDRESS"):
        public_address(given)
