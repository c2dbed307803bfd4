"""The layout file as models: addresses, chains, frames."""

import pytest
from pydantic import ValidationError

from eavesong.errors import LayoutError, MisfitError
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


CHAINED = (
    'title = "H"\n[[prop]]\nname = "eaves"\nshape = "line"\nto = [9, 0]\npixels = 90\n[[controller]]\nname = "box"\n'
    'address = "{address}"\n[[controller.output]]\nnumber = 1\nchain = {chain}\n'
)


def test_a_chain_of_one_prop_needs_no_brackets(layout_of):
    layout = layout_of(CHAINED.format(address="192.0.2.1", chain='"eaves"'))
    assert [run.prop for run in layout.patch.runs] == ["eaves"]
    with pytest.raises(LayoutError, match="no prop is called 'eave'\n    Did you mean 'eaves'"):
        layout_of(CHAINED.format(address="192.0.2.1", chain='"eave"'))


@pytest.mark.parametrize(
    ("address", "advice"),
    [
        ("http://192.0.2.7/", "Write '192.0.2.7' or 'multicast'."),
        ("192.0.2.7:5568", "Write '192.0.2.7' or 'multicast'."),
        ("192.0.2", "Write '192.0.2.10', a host name or 'multicast'."),
    ],
)
def test_what_is_more_than_an_address_is_told_with_the_address_in_it(layout_of, address, advice):
    with pytest.raises(LayoutError) as refused:
        layout_of(CHAINED.format(address=address, chain='["eaves"]'))
    assert refused.value.problems[0].instead == advice
