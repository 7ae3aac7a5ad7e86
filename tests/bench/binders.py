"""Binder pages against the same strokes put on a bare canvas, and what its contents and page numbers cost."""

from io import BytesIO
from typing import Any
from unittest import mock

from reportlab.pdfgen.canvas import Canvas

from commissioning.binders.render import fonts, render, whole
from tests.bench.timing import Line, cpu, in_turns, ratio
from tests.binders import examples

Stroke = tuple[str, tuple[Any, ...], dict[str, Any], list[tuple[str, tuple[Any, ...], dict[str, Any]]]]
_PLAIN = (
    "addOutlineEntry",
    "beginForm",
    "bookmarkPage",
    "circle",
    "doForm",
    "drawImage",
    "drawString",
    "endForm",
    "line",
    "rect",
    "restoreState",
    "saveState",
    "setDash",
    "setFillColorRGB",
    "setFont",
    "setLineWidth",
    "setStrokeColorRGB",
    "showPage",
    "translate",
)
_BEGUN_BY = {"drawText": "beginText", "drawPath": "beginPath"}


class _Begun:
    """A text or path that writes down how it was made."""

    def __init__(self, held: Any, args: tuple[Any, ...]) -> None:
        self._held, self._args, self._steps = held, args, []  # type: ignore[var-annotated]

    def __getattr__(self, name: str) -> Any:
        def step(*args: Any, **kwargs: Any) -> Any:
            self._steps.append((name, args, kwargs))
            return getattr(self._held, name)(*args, **kwargs)

        return step


class _Recording(Canvas):  # type: ignore[misc]
    """A canvas that writes down what is asked of it from outside, so that the same can be drawn with nothing around."""

    strokes: list[Stroke] = []
    _depth = 0

    def _outer(self, name: str, *args: Any, **kwargs: Any) -> Any:
        self._depth += 1
        try:
            return getattr(Canvas, name)(self, *args, **kwargs)
        finally:
            self._depth -= 1

    def beginText(self, *args: Any, **kwargs: Any) -> Any:
        made = self._outer("beginText", *args, **kwargs)
        return made if self._depth else _Begun(made, args)

    def beginPath(self) -> Any:
        made = self._outer("beginPath")
        return made if self._depth else _Begun(made, ())

    def drawText(self, begun: Any) -> Any:
        return self._finish("drawText", begun)

    def drawPath(self, begun: Any, *args: Any, **kwargs: Any) -> Any:
        return self._finish("drawPath", begun, *args, **kwargs)

    def _finish(self, name: str, begun: Any, *args: Any, **kwargs: Any) -> Any:
        if not isinstance(begun, _Begun):
            return self._outer(name, begun, *args, **kwargs)
        self.strokes.append((name, (begun._args, *args), kwargs, begun._steps))
        return self._outer(name, begun._held, *args, **kwargs)


def _recording(name: str) -> Any:
    def asked(self: _Recording, *args: Any, **kwargs: Any) -> Any:
        if self._depth == 0:
            self.strokes.append((name, args, kwargs, []))
        return self._outer(name, *args, **kwargs)

    return asked


for _name in _PLAIN:
    setattr(_Recording, _name, _recording(_name))


def _strokes(frozen: bytes) -> list[Stroke]:
    _Recording.strokes = []
    with mock.patch.object(whole, "Canvas", _Recording):
        render(frozen)
    return _Recording.strokes


def _draw(strokes: list[Stroke], size: tuple[float, float]) -> bytes:
    file = BytesIO()
    canvas = Canvas(file, pagesize=size, invariant=1, pageCompression=1, **fonts.INITIAL)
    for name, args, kwargs, steps in strokes:
        if name in _BEGUN_BY:
            begun = getattr(canvas, _BEGUN_BY[name])(*args[0])
            for step, given, named in steps:
                getattr(begun, step)(*given, **named)
            getattr(canvas, name)(begun, *args[1:], **kwargs)
        else:
            getattr(canvas, name)(*args, **kwargs)
    canvas.save()
    return file.getvalue()


def lines(units: int) -> list[Line]:
    frozen = examples.as_bytes(examples.frozen(units))
    pages = render(frozen).pages
    strokes = _strokes(frozen)
    size = (612.0, 792.0)
    assert render(frozen).pdf == render(frozen).pdf

    def ours(_: int) -> None:
        render(frozen)

    def bare(_: int) -> None:
        _draw(strokes, size)

    def without(_: int) -> None:
        """The same without its contents and without being joined with them."""
        with (
            mock.patch.object(whole, "contents", return_value=(b"", [])),
            mock.patch.object(whole, "join", lambda body, *args, **kwargs: body),
        ):
            render(frozen)

    rendered, drawn, body = in_turns(ours, bare, without)
    return [
        ratio(
            "B5a",
            "binder pages / the same strokes on a bare canvas, per CPU second",
            cpu(drawn),
            cpu(rendered),
            floor=0.6,
            goal=0.8,
            more_is_better=True,
            figures=f"{pages} pages; {pages / min(cpu(rendered)):.0f} against {pages / min(cpu(drawn)):.0f} per s",
        ),
        ratio(
            "B5b",
            "binder with contents, links and page x of y / without, CPU",
            cpu(rendered),
            cpu(body),
            floor=1.5,
            goal=1.1,
            more_is_better=False,
        ),
    ]
