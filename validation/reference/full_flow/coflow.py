"""Drops at a blunt tip in a co-flow with inertia: input for the flow solver.

La_o = rho_o gamma R/mu_o^2, Ca = mu_o U/gamma with U the axis velocity of the outer flux in the tube (Q_o = pi R_w^2 U/2), inner mean
velocity q U, viscosity ratio lambda. Tube R_w = 10.5; tip outside 1.5 or 3 (whole boxes); box 1.5; finest cell 1.5/2^level.
"""

import math

from .domain import boxes

BOX, WALL, UPSTREAM = 1.5, 10.5, -4.5

# The rim: a height function pinned half-way between first and ghost cell, which a contact angle in the tip's plane sets.
PIN = """static double pin (double y, double dl, double hb) {
      if (!(fabs (hb) < 50.)) return y < 1. ? 30. : 150.;
      return atan2 (1., 2.*((1. - y)/dl - hb))*180./M_PI;
    }"""
NO_SLIP = "Boundary { BcDirichlet U 0 BcDirichlet V 0 }"


def carries(cell):
    """The flux of the parabola summed over the middles of cells over its own."""
    middles = [(k + 0.5) * cell for k in range(math.ceil(1 / cell)) if (k + 0.5) * cell < 1]
    return 4 * cell * sum(y * (1 - y * y) for y in middles)


def coflow(laplace, capillary, share, ratio=1.0, density=1.0, outer=1.5, level=3, downstream=18.0, box=BOX, wall=WALL, upstream=UPSTREAM,
           resolve=None, more=""):
    """Text of the input; the annular flow upstream of the tip carries the outer flux exactly.

    `resolve`: change of velocity across a cell from which it is split (a share of the outer stream's by default); `more`: further
    lines of the input.
    """
    oh_o = math.sqrt(density / laplace)
    oh_i, u = ratio * oh_o, capillary / oh_o
    resolve = resolve or 0.04 * u
    ring = (wall**2 - outer**2) / math.log(wall / outer)
    carried = 0.5 * math.pi * (wall**4 - outer**4 - (wall**2 - outer**2) * ring)
    scale = 0.5 * math.pi * wall**2 * u / carried
    fed = 2 * share * u / carries(box / 2**level)
    count = lambda x: int(round(x / box))

    def boundary(i, j, side):
        if side == "left" and i == 0 and j < count(outer):
            return (f"Boundary {{ BcDirichlet U (y < 1. ? {fed}*(1. - y*y) : 0.) BcDirichlet V 0 "
                    f"BcAngle T pin (y, {box / 2**level}, T_Hby) }}")
        if side == "left" and i == count(upstream):
            return "Boundary { BcDirichlet U annulus (y) BcDirichlet V 0 BcDirichlet T 0 }"
        if side == "right" and i == count(downstream) - 1:
            return "BoundaryOutflow"
        return NO_SLIP

    n, links, text, first = boxes((count(upstream), count(downstream)), count(wall), lambda i, j: i >= 0 or j >= count(outer), boundary)
    densities = "" if density == 1.0 else f"  PhysicalParams {{ alpha = 1./MIX (T, 1., {density}) }}\n"
    return f"""{n} {links} GfsAxi GfsBox GfsGEdge {{ x = {first[0] + 0.5} }} {{
  Global {{
    #define MIX(T, a, b) (b + CLAMP (T, 0, 1)*(a - b))
    {PIN}
    static double annulus (double y) {{ return {scale}*({wall**2} - y*y + {ring}*log (y/{wall})); }}
    static int rim (double x, double y) {{ return x < 0.3 && x > -0.2 && y < {outer + 0.2}; }}
  }}
  PhysicalParams {{ L = {box} }}
  Time {{ end = 1000 }}
  Refine 2
  Refine (rim (x, y) ? {level} : 2)
  RefineSurface {level} (1. - sqrt (x*x + y*y))
  VariableTracerVOFHeight T
  VariableCurvature K T Kmax
  SourceTension T 1 K
{densities}  SourceViscosity MIX (T, {oh_i}, {oh_o})
  InitFraction T (1. - sqrt (x*x + y*y))
  Init {{}} {{ U = (x < 0 ? annulus (y) : {u}*(1. - y*y/{wall**2})) }}
  ApproxProjectionParams {{ tolerance = 1e-4 nitermin = 1 erelax = 2 }}
  ProjectionParams {{ tolerance = 1e-4 nitermin = 1 erelax = 2 }}
  AdaptFunction {{ istep = 1 }} {{ cmax = 0 minlevel = 1 maxlevel = {level} cfactor = 2 }} ((T > 0 && T < 1) || rim (x, y) ? 1 : 0)
  AdaptGradient {{ istep = 1 }} {{ cmax = {resolve} minlevel = 1 maxlevel = {level - 1} }} U
  AdaptGradient {{ istep = 1 }} {{ cmax = {resolve} minlevel = 1 maxlevel = {level - 1} }} V
  OutputDropletSums {{ step = 0.1 }} volume.txt {{ v = T*dL*dL*y }} T
  OutputDropletSums {{ step = 0.1 }} moment.txt {{ v = T*dL*dL*y*x }} T
{more}}}
{text}"""
