"""Picture of a fit of the ink model: every stack as measured and as predicted, and what moved."""

from blendkit.advice.calibrate import Calibration, Constant, StackCheck
from blendkit.report.canvas import INK, QUIET, RULE, WARNING, Canvas

_MOST_STACKS = 24
_TITLES = {
    "helps": "The ink model, fitted to your paper",
    "no help": "The ink model: a fit that does not help",
    "too few": "The ink model: too little measured to fit",
}
_COLUMNS = 4


def draw_calibration(record: Calibration) -> Canvas:
    """Draw the stacks that were farthest off first, then the errors and the constants."""
    stacks = "stack" if record.observations == 1 else "stacks"
    markers = "marker" if record.markers == 1 else "markers"
    canvas = Canvas.of(
        220,
        _TITLES[record.verdict],
        f"on {record.on}; {record.observations} measured {stacks} of {record.markers} {markers}",
    )
    if not record.stacks:
        y = 34.0
        for words in record.words:
            y = canvas.lines(12, y, words, 196, 9) + 2
        return canvas.finish(y)
    y = _key(canvas, 32)
    shown = sorted(record.stacks, key=lambda stack: -stack.delta_e_before)[:_MOST_STACKS]
    for place, stack in enumerate(shown):
        _stack(canvas, 12 + 50.0 * (place % _COLUMNS), y + 30.0 * (place // _COLUMNS), stack)
    y += 30.0 * -(-len(shown) // _COLUMNS)
    if len(record.stacks) > len(shown):
        left = len(record.stacks) - len(shown)
        canvas.text(12, y, f"and {left} more, which were nearer from the start", 7.5, QUIET)
        y += 5
    y += 4
    height = _errors(canvas, 20, y + 6, record)
    below = y + 6
    canvas.text(128, below, "The constants: usual (ring), fitted (dot)", 9, bold=True)
    below += 8
    for constant in record.constants:
        if constant.fitted:
            below = _constant(canvas, 128, below, constant) + 6
    y = max(y + 6 + height, below) + 6
    for words in record.words:
        y = canvas.lines(12, y, words, 196, 8) + 1.5
    return canvas.finish(y)


def _key(canvas: Canvas, y: float) -> float:
    canvas.lines(
        12,
        y,
        "Each large field is the colour as measured. The two small ones lie in it as predicted: left with the "
        "usual constants, right with the fitted ones. The less you see of a small field, the better. Numbers "
        "are CIEDE2000 from the measured colour; 1 is barely seen, 5 is plain.",
        196,
        8,
        QUIET,
    )
    return y + 13


def _stack(canvas: Canvas, x: float, y: float, stack: StackCheck) -> None:
    canvas.block(x, y, 46, 18, stack.measured.hex)
    for left, swatch in ((x + 6, stack.before), (x + 26, stack.after)):
        canvas.axes.fill(
            [left, left + 14, left + 14, left], [y + 4, y + 4, y + 14, y + 14], color=swatch.hex, linewidth=0
        )
    canvas.text(x + 13, y + 21.6, f"{stack.delta_e_before:.1f}", 7, QUIET, align="center")
    canvas.text(x + 33, y + 21.6, f"{stack.delta_e_after:.1f}", 7, align="center", bold=True)
    size = 7.2 if len(stack.name) < 30 else 5.8
    canvas.text(x, y + 26, stack.name, size)


def _errors(canvas: Canvas, x: float, y: float, record: Calibration) -> float:
    """Draw how far off every stack is, before and after, worst first."""
    height = 58.0
    plot = canvas.plot(x, y, 92, height - 12)
    stacks = sorted(record.stacks, key=lambda stack: -stack.delta_e_before)
    places = range(len(stacks))
    plot.vlines(
        places,
        [stack.delta_e_before for stack in stacks],
        [stack.delta_e_left_out for stack in stacks],
        color=RULE,
        linewidth=1.2,
        zorder=1,
    )
    plot.scatter(
        places,
        [stack.delta_e_before for stack in stacks],
        s=18,
        facecolors="none",
        edgecolors=INK,
        linewidths=0.8,
        label="usual constants",
        zorder=2,
    )
    plot.scatter(
        places,
        [stack.delta_e_left_out for stack in stacks],
        s=18,
        color=WARNING,
        linewidths=0,
        label="fitted without the stack's markers",
        zorder=3,
    )
    plot.set_ylim(bottom=0)
    plot.set_xticks([])
    plot.set_xlabel("stacks, the farthest off first", fontsize=7, color=QUIET)
    plot.set_ylabel("CIEDE2000 from the measured colour", fontsize=7, color=QUIET)
    plot.legend(fontsize=6.5, frameon=False, loc="upper right")
    return height


def _constant(canvas: Canvas, x: float, y: float, constant: Constant) -> float:
    """Draw a constant's range as a line, with where it was and where it went."""
    canvas.text(x, y, constant.name, 8.5, bold=True)
    canvas.text(x + 80, y, f"{constant.before:g} → {constant.after:g}", 8, align="right")
    below = canvas.lines(x, y + 4.2, constant.meaning, 80, 7, QUIET)
    start, length = x + 2, 76.0
    span = constant.high - constant.low

    def at(value: float) -> float:
        return start + length * (value - constant.low) / span

    line = below + 1.5
    canvas.axes.plot([start, start + length], [line, line], color=RULE, linewidth=2, solid_capstyle="round")
    canvas.axes.plot([at(constant.before)], [line], "o", mfc="none", mec=INK, ms=5, mew=0.9)
    canvas.axes.plot([at(constant.after)], [line], "o", color=WARNING, ms=5, mew=0)
    canvas.text(start, line + 4.6, f"{constant.low:g}", 6.2, QUIET)
    canvas.text(start + length, line + 4.6, f"{constant.high:g}", 6.2, QUIET, align="right")
    return line + 5
