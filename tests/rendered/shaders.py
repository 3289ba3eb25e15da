"""The shaders: one for everything solid, one for the shadow on the belt."""

BELT_PERIOD_M = 0.35  # the belt's marks repeat after this length
SHADOW_HALF_M = 1.3  # the shadow picture covers this far about the belt's middle

SOLID_VERTEX = """
#version 330
uniform mat4 view; uniform float inflate; uniform float flare; uniform vec2 hem;
in vec3 position; in vec3 normal; in vec3 rest; in vec2 part;
out vec3 at; out vec3 facing; out vec3 home; out vec2 piece;
void main() {
    float loose = inflate + flare * clamp((hem.y - rest.z) / max(hem.y - hem.x, 0.01), 0.0, 1.0);
    at = position + normal * loose;
    facing = normal; home = rest; piece = part;
    gl_Position = view * vec4(at, 1.0);
}
"""

LAYERS = ("room", "skin", "shorts", "shirt", "shoes", "hair")

_HEAD = """
#version 330
uniform vec3 eye; uniform float light; uniform float belt_m;
uniform vec2 hem; uniform float sleeve; uniform vec2 collar; uniform vec3 eyes;
uniform vec3 skin; uniform vec3 hair; uniform vec3 cloth; uniform vec3 tape; uniform float taped;
uniform vec3 wall; uniform vec3 accent; uniform vec3 socks; uniform vec3 midsole;
uniform float size; uniform sampler2D shadow;
in vec3 at; in vec3 facing; in vec3 home; in vec2 piece;
out vec4 colour;
float hash(vec2 p) { return fract(sin(dot(p, vec2(127.1, 311.7))) * 43758.5453); }
float noise(vec2 p) {
    vec2 i = floor(p), f = fract(p); f = f * f * (3.0 - 2.0 * f);
    return mix(mix(hash(i), hash(i + vec2(1, 0)), f.x),
               mix(hash(i + vec2(0, 1)), hash(i + vec2(1, 1)), f.x), f.y);
}
"""

_FACE = """
float oval(float x, float z, vec2 r) {
    return step(x * x / (r.x * r.x) + z * z / (r.y * r.y), 1.0);
}
vec3 face(vec3 base) {
    vec3 d = vec3(home.x - eyes.x, abs(home.y) - eyes.y, home.z - eyes.z) / size;
    float mid = abs(home.y) / size;
    vec3 c = base;
    float brow = step(abs(d.z - 0.020 + 0.15 * abs(d.y + 0.004)), 0.0045) * step(abs(d.y), 0.022);
    c = mix(c, hair * 0.8, 0.8 * brow * step(-0.03, d.x));
    c = mix(c, vec3(0.85), oval(d.y, d.z, vec2(0.015, 0.0065)) * step(-0.02, d.x));
    c = mix(c, vec3(0.12, 0.08, 0.06), step(length(d.yz), 0.0055) * step(-0.02, d.x));
    float lips = oval(mid, d.z + 0.071, vec2(0.025, 0.010)) * step(-0.01, d.x);
    return mix(c, base * vec3(0.80, 0.52, 0.50), lips);
}
"""

_HAIRY = """
bool hairy() {
    vec3 d = (home - eyes) / size; float mid = abs(home.y) / size;
    float line = 0.062 - 0.9 * max(mid - 0.030, 0.0);
    bool top = d.z > line && d.x > -0.075;
    bool back = d.x < -0.075 && d.z > -0.035 - 0.45 * clamp(-0.085 - d.x, 0.0, 0.06);
    return top || back;
}
"""

_BASE = {
    "skin": """
    base = skin * (0.94 + 0.08 * noise(home.yz * 60.0));
    if (piece.x > 1.5) base = face(base);
    else if (piece.x < 0.5 && home.z < 0.155 * size) base = socks;
    shine = 0.10;
""",
    "shorts": """
    if (piece.x > 0.5 || home.z < hem.x || home.z > hem.y) discard;
    base = cloth * (0.92 + 0.10 * noise(home.yz * vec2(25.0, 90.0)));
    if (home.z > hem.y - 0.035) base = mix(base * 0.75, tape, taped);
    if (abs(home.x) < 0.012 && abs(home.y) > 0.10) base = mix(base, accent, 0.8);
""",
    "shirt": """
    if (piece.x > 1.5 || (piece.x < 0.5 && home.z < hem.x)) discard;
    if (piece.x < 0.5 && home.z > collar.x + collar.y * home.x + 0.1 * abs(home.y)) discard;
    if (piece.x > 0.5 && piece.y > sleeve) discard;
    base = cloth * (0.93 + 0.10 * noise(home.yz * vec2(30.0, 18.0)));
    if (home.z < hem.y && abs(home.y) > 0.115 * size && piece.x < 0.5)
        base = mix(base, accent, 0.7);
""",
    "shoes": """
    base = home.z < 0.004 ? midsole : cloth;
    if (home.z < -0.016) base = vec3(0.25);
    if (abs(fract(home.x * 28.0) - 0.5) < 0.10 && home.z > 0.045 && home.x > 0.03)
        base = midsole + 0.03;
""",
    "hair": """
    if (piece.x < 1.5 || (piece.x < 2.5 && !hairy())) discard;
    base = hair * (0.75 + 0.5 * noise(vec2(home.y * 220.0, home.x * 25.0 + home.z * 25.0)));
""",
    "room": """
    float material = piece.x;
    if (material < 20.5) {
        vec2 p = vec2(at.x + belt_m, at.y);
        float grain = noise(p * vec2(180.0, 180.0));
        base = vec3(0.075, 0.078, 0.085) * (0.90 + 0.2 * grain);
        float mark = step(abs(fract(p.x / PERIOD) - 0.5), 0.030);
        mark *= step(abs(abs(p.y) - 0.17), 0.035);
        if (n.z > 0.5) base = mix(base, vec3(0.32), mark);
    } else if (material < 21.5) {
        vec2 p = at.xy * vec2(1.0, 6.5); float plank = floor(p.y);
        float along = p.x + hash(vec2(plank, 3.0)) * 2.0;
        base = vec3(0.42, 0.33, 0.25) * (0.85 + 0.25 * hash(vec2(plank, floor(along / 1.4))));
        base *= 0.94 + 0.10 * noise(vec2(at.x * 6.0, at.y * 90.0));
        if (fract(p.y) < 0.03) base *= 0.7;
    } else if (material < 22.5) {
        base = wall * (0.97 + 0.04 * noise(vec2(at.x + at.y, at.z) * 8.0));
        if (at.z < 0.92 && at.z > 0.88) base *= 0.86;
    } else if (material < 23.5) { base = vec3(0.13, 0.135, 0.14); shine = 0.2; }
    else if (material < 24.5) { base = vec3(0.24, 0.245, 0.25); shine = 0.25; }
    else if (material < 25.5) { base = vec3(0.10); shine = 0.2; }
    else if (material < 26.5) { base = vec3(0.10, 0.22, 0.30); }
    else if (material < 27.5) { base = wall * 0.55; }
    else {
        vec2 q = vec2(at.x + at.y, at.z);
        base = mix(vec3(0.75, 0.72, 0.66), accent, step(0.5, noise(q * 5.0)));
        base = mix(base, vec3(0.2, 0.3, 0.4), step(0.62, noise(q * 7.0 + 9.0)));
    }
    if (n.z > 0.5 && abs(at.x) < HALF && abs(at.y) < HALF) {
        vec2 uv = at.xy / (2.0 * HALF) + 0.5; float dark = 0.0;
        for (int i = -1; i <= 1; i++) for (int j = -1; j <= 1; j++)
            dark += texture(shadow, uv + vec2(i, j) * 0.009).r;
        shade = 1.0 - 0.62 * dark / 9.0;
    }
""",
}

_MAIN = """
void main() {
    vec3 n = normalize(facing);
    vec3 toward = normalize(eye - at);
    FLIP
    vec3 base = vec3(0.5); float shine = 0.06; float shade = 1.0;
    BASE
    vec3 key = normalize(vec3(0.35, -0.25 * sign(-eye.y + 0.001), 1.0));
    float lit = max(dot(n, key), 0.0);
    float fill = 0.5 + 0.5 * n.z;
    float front = max(dot(n, normalize(toward + vec3(0, 0, 0.4))), 0.0);
    float glint = pow(max(dot(n, normalize(key + toward)), 0.0), 24.0) * shine;
    vec3 linear = base * base * (0.58 * lit + 0.32 * fill + 0.30 * front) * shade + glint;
    colour = vec4(sqrt(linear * light), 1.0);
}
"""


def fragment(layer: str) -> str:
    """Source of one layer's fragment shader; one each, since a processor runs every branch."""
    parts = _HEAD + {"skin": _FACE, "hair": _HAIRY}.get(layer, "") + _MAIN
    flip = "if (dot(n, toward) < 0.0) n = -n;" if layer in ("shorts", "shirt", "hair") else ""
    return (
        parts.replace("BASE", _BASE[layer])
        .replace("FLIP", flip)
        .replace("HALF", f"{SHADOW_HALF_M:.2f}")
        .replace("PERIOD", f"{BELT_PERIOD_M:.4f}")
    )


SHADOW_VERTEX = """
#version 330
in vec3 position;
void main() {
    vec2 fallen = position.xy - vec2(0.12, -0.06) * position.z;
    gl_Position = vec4(fallen / HALF, 0.0, 1.0);
}
""".replace("HALF", f"{SHADOW_HALF_M:.2f}")

SHADOW_FRAGMENT = """
#version 330
out vec4 colour;
void main() { colour = vec4(1.0); }
"""
