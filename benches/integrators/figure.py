"""Error against cost, both problems side by side."""

import matplotlib

matplotlib.use("svg")
import matplotlib.pyplot as plt  # noqa: E402
from fronts import front  # noqa: E402
from settings import FAMILIES, TARGET  # noqa: E402

COLOURS = {"slenderjet": "#000000", "diffsol": "#d55e00", "CVODE": "#0072b2", "LSODA": "#009e73", "BDF of SciPy": "#cc79a7"}
TITLES = {
    "dripping": "Dripping drop: Oh 0.1, Bo 0.5, We 0.001",
    "segment": "Segment: kR 0.7, Oh 0.1 (dashed: graded mesh)",
}


def draw(rows, shipped, path, look):
    plt.rcParams.update(
        {"svg.hashsalt": "slenderjet", "svg.fonttype": "none", "font.family": "sans-serif", "font.size": 8, "axes.linewidth": 0.6}
    )
    figure, panels = plt.subplots(1, 2, figsize=(170 / 25.4, 86 / 25.4), layout="constrained")
    for axes, case in zip(panels, TITLES):
        for family, solvers in FAMILIES.items():
            for suffix, style in (("", "-"), ("-graded", "--")):
                of = [r for r in rows if r["solver"] in solvers and r["case"] == case + suffix]
                points = front(of)
                if not points:
                    continue
                x, y = [p["sure_error"] for p in points], [1e3 * p["cpu_s"] for p in points]
                width = 1.6 if family == "slenderjet" else 1.0
                label = family if not suffix else None
                axes.plot(x, y, style, marker=".", ms=4, lw=width, color=COLOURS[family], label=label)
        for row in (r for r in shipped if r["case"] == case):
            x, y = row["sure_error"], 1e3 * row["cpu_s"]
            axes.plot(x, y, "o", mfc="none", mec="black", ms=6, mew=0.8)
            axes.annotate(row["solver"].split()[1], (x, y), textcoords="offset points", xytext=(6, 3), fontsize=7)
        axes.axvline(TARGET[case], color="0.6", lw=0.6, ls=":", zorder=0)
        axes.set(xscale="log", yscale="log", title=TITLES[case], xlabel="relative error of the time at neck 0.01 R")
        axes.set_ylabel("time on the processor, ms")
        axes.title.set_fontsize(8)
        axes.grid(which="major", lw=0.3, color="0.85")
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles, labels, frameon=False, fontsize=7, ncols=len(labels), loc="outside lower center")
    figure.savefig(path, metadata={"Date": None, "Creator": None})
    figure.savefig(look, dpi=150)
