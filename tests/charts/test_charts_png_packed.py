"""A page's PNG is the rasteriser's, packed anew: the same pixels in fewer bytes."""

from stillroom.charts.raster import drawn_png, pixels_of, repacked

PAGE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="400" height="200"><rect width="400" height="200" fill="#fff"/>'
    '<text x="20" y="100" font-family="Stillroom Sans" font-size="30">71 m³/h (60 to 82)</text>'
    '<circle cx="300" cy="100" r="60" fill="#246" fill-opacity="0.4"/></svg>'
)


def test_pixels_stay_and_bytes_go() -> None:
    drawn = drawn_png(PAGE, 2)
    packed = repacked(drawn)
    assert (pixels_of(packed) == pixels_of(drawn)).all()
    assert len(packed) < 0.8 * len(drawn)
    assert packed == repacked(packed)
