"""Cost against cells, cost against drops, memory against drops."""

import matplotlib

matplotlib.use("svg")
import matplotlib.pyplot as plt  # noqa: E402

COLOURS = ("#0072b2", "#d55e00", "#009e73", "#000000")


def draw(cells, drops, records, kernels, path, look):
    plt.rcParams.update(
        {"svg.hashsalt": "slenderjet", "svg.fonttype": "none", "font.family": "sans-serif", "font.size": 8, "axes.linewidth": 0.6}
    )
    figure, (left, middle, right) = plt.subplots(1, 3, figsize=(170 / 25.4, 62 / 25.4), layout="constrained")
    for (key, name), colour in zip(kernels.items(), COLOURS):
        left.loglog([r["cells"] for r in cells], [1e6 * r[key] for r in cells], ".-", color=colour, lw=1, ms=4, label=name)
    straight(left, [r["cells"] for r in cells], 1e6 * cells[0]["force_s"] / 2)
    left.set(xlabel="cells", ylabel="time, us")
    left.set_ylim(top=5e4)
    left.legend(frameon=False, fontsize=6.5)
    middle.loglog([r["drops"] for r in drops], [r["cpu_s"] for r in drops], ".-", color="black", lw=1, ms=4, label="without a record")
    middle.loglog([r["drops"] for r in records], [r["user_s"] for r in records], "s", mfc="none", color="#d55e00", ms=4, label="with one")
    straight(middle, [r["drops"] for r in drops], drops[0]["cpu_s"] / 4)
    middle.set(xlabel="drops", ylabel="time on the processor, s")
    middle.legend(frameon=False, fontsize=6.5)
    right.semilogx([r["drops"] for r in drops], [r["memory_kb"] / 1e3 for r in drops], ".-", color="black", lw=1, ms=4)
    right.semilogx([r["drops"] for r in records], [r["memory_kb"] / 1e3 for r in records], "s-", mfc="none", color="#d55e00", lw=1, ms=4)
    right.set(xlabel="drops", ylabel="largest memory, MB")
    right.set_ylim(bottom=0)
    for axes in (left, middle, right):
        axes.grid(which="major", lw=0.3, color="0.85")
    figure.savefig(path, metadata={"Date": None, "Creator": None})
    figure.savefig(look, dpi=150)


def straight(axes, x, start):
    """What is proportional, to compare with."""
    axes.loglog(x, [start * value / x[0] for value in x], ":", color="0.5", lw=0.8, label="proportional")
