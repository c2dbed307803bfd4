"""The layout file as models: addresses, chains, frames."""

import pytest
from pydantic import ValidationError

from eavesong.errors import MisfitError
from eavesong.layout.model import ControllerEntry, FrameBox, House, Output, layout_schema

OUTPUT = {"number": 1, "chain": ["eaves"]}


def test_a_name_alone_stands_for_a_link():
    assert Output.model_validate(OUTPUT) == Output.model_validate({"number": 1, "chain": [{"prop": "eaves"}]})


@pytest.mark.parametrize("address", ["192.0.2.10", "2001:db8::1", "multicast", "box-1.example", "a.example."])
def test_addresses_are_ip_or_host_names(address):
    """Documentation addresses of RFC 5737 and RFC 3849; host names as RFC 1123, 2.1 has them."""
    assert ControllerEntry.model_validate({"name": "box", "address": address, "output": [OUTPUT]}).address == address


@pytest.mark.parametrize("address", ["192.0.2.300", "1.2.3", "-box", "box_1", "a b", "x" * 64, ""])
def test_what_is_neither_is_refused(address):
    with pytest.raises((MisfitError, ValidationError)):
        ControllerEntry.model_validate({"name": "box", "address": address, "output": [OUTPUT]})


def test_a_controller_has_no_fewer_outputs_than_are_wired():
    two = [OUTPUT, {"number": 2, "chain": ["arch"]}]
    with pytest.raises((MisfitError, ValidationError), match="2 are described"):
        ControllerEntry.model_validate({"name": "box", "outputs": 1, "output": two})


def test_a_frame_runs_from_below_to_above():
    assert FrameBox.model_validate({"from": [0.0, 0.0], "to": [1.0, 2.0]}).end == (1.0, 2.0, 0.0)
    with pytest.raises((MisfitError, ValidationError), match="beyond"):
        FrameBox.model_validate({"from": [2.0, 0.0], "to": [1.0, 2.0]})


def test_universes_are_those_that_carry_data():
    """ANSI E1.31-2018, 6.2.7: 1 to 63999."""
    for universe in (1, 63999):
        assert Output.model_validate(OUTPUT | {"universe": universe}).universe == universe
    for universe in (0, 64000):
        with pytest.raises(ValidationError):
            Output.model_validate(OUTPUT | {"universe": universe})


def test_the_schema_is_of_the_house():
    assert set(House.model_fields) == set(layout_schema()["properties"])
    assert layout_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"
