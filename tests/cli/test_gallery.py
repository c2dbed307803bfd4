"""``eavesong gallery``: where the page is, and what to write instead of an effect that is none."""


def test_the_page_and_the_size_of_its_pictures_are_told(eavesong, tmp_path, monkeypatch):
    def made(out, say, names, overwrite):
        (out / "pictures").mkdir()
        (out / "pictures" / f"{names[0]}.webp").write_bytes(bytes(2_500_000))
        return out / "effects.md"

    monkeypatch.setattr("eavesong.demo.gallery.make_gallery", made)
    assert (
        eavesong("gallery", "plain", "--out", tmp_path).out == f"{tmp_path / 'effects.md'}, with 2.5 MB of pictures\n"
    )


def test_an_effect_that_is_none_ends_with_3(eavesong, tmp_path):
    ended = eavesong("gallery", "plian", "--out", tmp_path)
    assert ended.code == 3
    assert "plain" in ended.err
