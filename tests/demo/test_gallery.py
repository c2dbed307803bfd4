"""The gallery shows what it says it shows."""

from PIL import Image

from eavesong.demo.gallery import HOUSES, make_gallery


def test_an_effect_gets_a_still_and_a_loop_on_two_houses(tmp_path):
    page = make_gallery(tmp_path, lambda step: None, ["pond"]).read_text()
    assert "| `reach` | 1 | 0.05 | 3 | how far a ring runs; house widths |" in page
    for house in HOUSES:
        stem = f"pond-{house.removesuffix('.toml')}"
        for name in (f"{stem}.webp", f"{stem}-still.webp"):
            assert f"(pictures/{name})" in page
            with Image.open(tmp_path / "pictures" / name) as picture:
                frames = getattr(picture, "n_frames", 1)
            assert (frames == 1) == name.endswith("-still.webp")
