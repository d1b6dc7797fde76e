"""Makes the bundled faces: a subset of Source Sans 3 under a name of its own, as its licence asks of changed versions."""
import sys
from fontTools import subset
from fontTools.ttLib import TTFont
src, out, sub = sys.argv[1:4]
opts = subset.Options()
opts.layout_features = ["kern", "liga", "mark", "ccmp", "tnum", "locl"]
opts.name_IDs = ["*"]; opts.notdef_outline = True; opts.hinting = False
s = subset.Subsetter(opts)
u = list(range(0x20,0x7f))+list(range(0xa0,0x180))+list(range(0x391,0x3ca))+list(range(0x410,0x450))+[0x401,0x451,0x2d9,0x2da,0x2032,0x2033]
u += [0x2010,0x2011,0x2012,0x2013,0x2014,0x2018,0x2019,0x201a,0x201c,0x201d,0x201e,0x2020,0x2022,0x2026,0x2030,0x2039,0x203a,0x20ac,0x2122,0x2126,0x2190,0x2191,0x2192,0x2193,0x2202,0x2206,0x221a,0x221e,0x222b,0x2248,0x2260,0x2264,0x2265,0x2212,0x2215,0x2219,0x00d7,0x2009,0x200a,0x202f,0x25cf,0x25cb,0x25b2,0x25bc]
f = TTFont(src)
s.populate(unicodes=u); s.subset(f)
name = f["name"]
family, style = "Slenderjet Sans", sub
for rec in list(name.names):
    if rec.nameID in (1,16): name.setName(family, rec.nameID, rec.platformID, rec.platEncID, rec.langID)
    elif rec.nameID in (2,17): name.setName(style, rec.nameID, rec.platformID, rec.platEncID, rec.langID)
    elif rec.nameID == 4: name.setName(f"{family} {style}", 4, rec.platformID, rec.platEncID, rec.langID)
    elif rec.nameID == 6: name.setName(f"SlenderjetSans-{style.replace(' ','')}", 6, rec.platformID, rec.platEncID, rec.langID)
    elif rec.nameID == 3: name.setName(f"SlenderjetSans-{style};subset", 3, rec.platformID, rec.platEncID, rec.langID)
    elif rec.nameID in (7,8,9,11,12,18,21,22,25): name.removeNames(nameID=rec.nameID)
f.recalcTimestamp=False
f.save(out+".ttf")
f.flavor="woff2"; f.save(out+".woff2")
print(out, len(f.getGlyphOrder()), [ (r.nameID,str(r)) for r in name.names][:9])
