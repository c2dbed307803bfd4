// The lights in WebGL2: glows of four widths that add up in linear light, then one tone curve. The numbers are those
// of night.py, so that the page and the stills look alike.
import { looksOf } from "./glare.js";
import { SPREADS, mapOf } from "./ground.js";

export const GLOWS = [[0.9, 1.0], [3.2, 0.5], [14.0, 0.55], [60.0, 0.5]], EXPOSURE = 16, UNLIT = 0.006, HINT = 0.006;

// Lights that are off are not drawn: the hint of the moon on them stands in the far picture.
const POINTS = `#version 300 es
precision highp float;
in vec3 place; in vec3 colour; in float looks;
uniform vec3 eye, lens; uniform mat3 axes; uniform vec2 size; uniform float point, root, bright, moon, bend;
out vec3 lit;
void main() {
  vec3 off = (place - eye) * axes;
  vec2 flat_ = off.xy / max(-off.z, 0.000001);
  flat_ *= 1.0 + bend * dot(flat_, flat_);
  vec2 at = vec2(lens.y + flat_.x * lens.x, lens.z - flat_.y * lens.x);
  lit = moon > 0.0 ? vec3(min(moon * bright * looks, ${HINT})) : colour * mix(vec3(1.0), colour, root) * bright * looks;
  bool dark = lit.r + lit.g + lit.b <= 0.0 || -off.z < 0.3;
  gl_Position = dark ? vec4(2.0, 2.0, 0.0, 1.0) : vec4(at.x / size.x * 2.0 - 1.0, 1.0 - at.y / size.y * 2.0, 0.0, 1.0);
  gl_PointSize = point;
}`;

// A bell (1 - x/8)^8, close to exp(-x) and cheaper; its sum is 8/9 of that one's.
const BELL = `#version 300 es
precision highp float;
in vec3 lit; uniform float point, narrow; out vec4 colour;
void main() {
  vec2 off = (gl_PointCoord - 0.5) * point;
  float bell = max(1.0 - dot(off, off) * narrow / 8.0, 0.0);
  bell *= bell; bell *= bell;
  colour = vec4(lit * bell * bell, 1.0);
}`;

const SHEET = `#version 300 es
out vec2 at;
void main() { at = vec2(gl_VertexID & 1, gl_VertexID >> 1) * 2.0; gl_Position = vec4(at * 2.0 - 1.0, 0.0, 1.0); }`;

const SHRINK = `#version 300 es
precision highp float;
in vec2 at; uniform sampler2D wide; uniform vec2 grain; uniform float factor; out vec4 colour;
void main() {
  colour = factor * 0.25 * (texture(wide, at + grain * vec2(-1, -1)) + texture(wide, at + grain * vec2(1, -1))
    + texture(wide, at + grain * vec2(-1, 1)) + texture(wide, at + grain));
}`;

const BLUR = `#version 300 es
precision highp float;
in vec2 at; uniform sampler2D wide; uniform vec2 step_; uniform float narrow, reach; out vec4 colour;
void main() {
  vec4 total = vec4(0.0); float weights = 0.0;
  for (float i = -reach; i <= reach; i++) {
    float weight = exp(-i * i * narrow);
    total += weight * texture(wide, at + i * step_); weights += weight;
  }
  colour = total / weights;
}`;

// The scene without lights: sky, earth, the dark house, the photo. Drawn once for each size and view.
const FAR = `#version 300 es
precision highp float;
in vec2 at; out vec4 colour;
uniform sampler2D behind, photo; uniform float horizon, tall;
void main() {
  float row = 1.0 - at.y;
  vec4 shape = texture(behind, vec2(at.x, row)), seen = texture(photo, vec2(at.x, row));
  vec3 sky = mix(vec3(0.0006, 0.0010, 0.0030), vec3(0.0040, 0.0056, 0.0125), pow(min(row / max(horizon, 0.001), 1.0), 2.0)) + 0.11 * shape.g;
  vec3 earth = vec3(0.0016, 0.0019, 0.0026) * (1.0 - 0.5 * clamp((row - horizon) / 0.4, 0.0, 1.0));
  vec3 scene = mix(sky, earth, clamp((row - horizon) * tall + 0.5, 0.0, 1.0));
  scene = scene * (1.0 - shape.r) + vec3(0.0010, 0.0012, 0.0024) * shape.b * 2.55;
  scene = mix(scene, pow(seen.rgb, vec3(2.2)) * vec3(0.0375, 0.044, 0.0625), seen.a);
  colour = vec4(scene, 1.0);
}`;

// A wide glow added to the canvas of the next finer one.
const ADD = `#version 300 es
precision highp float;
in vec2 at; out vec4 colour; uniform sampler2D wide;
void main() { colour = texture(wide, at); }`;

// A light on the map of the ground, if it is of one spread: 0 low, 1 high.
const DOWN = `#version 300 es
precision highp float;
in vec3 place; in vec3 colour;
uniform vec4 map; uniform vec2 cells; uniform float root, amount, spread;
out vec3 lit;
void main() {
  lit = colour * mix(vec3(1.0), colour, root) * amount;
  vec2 at = ((place.xz - map.xy) / map.z + 0.5) / cells * 2.0 - 1.0;
  bool other = abs(step(1.5, place.y - map.w) - spread) > 0.5;
  gl_Position = other ? vec4(2.0, 2.0, 0.0, 1.0) : vec4(at, 0.0, 1.0);
  gl_PointSize = 1.0;
}`;
const DOT = `#version 300 es
precision highp float;
in vec3 lit; out vec4 colour;
void main() { colour = vec4(lit, 1.0); }`;

// The ground as it is seen: where the ray through each element meets it, what the map has there.
const SPILL = `#version 300 es
precision highp float;
in vec2 at; out vec4 colour;
uniform sampler2D low, high, behind; uniform vec3 eye, lens; uniform mat3 axes; uniform vec2 size, cells; uniform vec4 map;
void main() {
  vec2 element = vec2(at.x, 1.0 - at.y) * size;
  vec3 ray = axes * vec3((element.x - lens.y) / lens.x, (lens.z - element.y) / lens.x, -1.0);
  float away = (eye.y - map.w) / max(-ray.y, 0.000001);
  vec2 spot = (((eye + away * ray).xz - map.xy) / map.z + 0.5) / cells;
  bool seen = ray.y < -0.000001 && spot.x > 0.0 && spot.y > 0.0 && spot.x < 1.0 && spot.y < 1.0;
  float free = 1.0 - texture(behind, vec2(at.x, 1.0 - at.y)).r;
  colour = vec4(seen ? (texture(low, spot).rgb + texture(high, spot).rgb) * free : vec3(0.0), 1.0);
}`;

// All light together, through the tone curve. What stands in ``shown`` is sRGB (IEC 61966-2-1) of 1 - exp(-light) as a
// quotient of polynomials in the square root of light, fitted to within 0.14 of 255.
const FINISH = `#version 300 es
precision highp float;
in vec2 at; out vec4 colour;
uniform sampler2D far, disc, wide;
float noise(vec2 p) { return fract(52.9829189 * fract(dot(p, vec2(0.06711056, 0.00583715)))); }
void main() {
  ivec2 own = ivec2(gl_FragCoord.xy);
  vec3 scene = texelFetch(far, own, 0).rgb + texelFetch(disc, own, 0).rgb + texture(wide, at).rgb;
  scene += 0.12 * max(max(scene.r, max(scene.g, scene.b)) - 1.0, 0.0);
  vec3 s = min(sqrt(scene), 3.3);
  vec3 above = s * (0.181355 + s * (-7.081185 + s * (510.304417 + s * (-82.677427 + s * 73.326928))));
  vec3 below = 1.0 + s * (-8.163392 + s * (428.138567 + s * (47.60355 + s * (82.619639 + s * 53.675201))));
  colour = vec4(above / below + (noise(gl_FragCoord.xy) - 0.5) / 255.0, 1.0);
}`;

export const MOST = 60000;

// Means of runs of ``group`` rows of ``width`` numbers, of the first ``used`` of each.
export function grouped(rows, group, width, used, curve) {
  const count = rows.length / width, out = new Float32Array(Math.ceil(count / group) * width);
  for (let i = 0; i < count; i++) {
    const share = 1 / Math.min(group, count - (i - i % group)), at = Math.floor(i / group) * width;
    for (let k = 0; k < used; k++) out[at + k] += curve(rows[i * width + k]) * share;
  }
  return out;
}

export class Light {
  constructor(canvas, places, exact, ground) {
    const gl = canvas.getContext("webgl2", { antialias: false, alpha: false, depth: false, powerPreference: "low-power" });
    const whole = gl?.getExtension("EXT_color_buffer_float");
    if (!whole && !gl?.getExtension("EXT_color_buffer_half_float")) throw new Error("no WebGL2 with light beyond white");
    // Of very many lights, as many as share an element of a screen are drawn as one, with the light of all of them.
    this.group = Math.ceil(places.length / 3 / MOST);
    places = this.group > 1 ? grouped(places, this.group, 3, 3, (x) => x) : places;
    Object.assign(this, { format: whole ? gl.R11F_G11F_B10F : gl.RGBA16F, gl, canvas, count: places.length / 3, power: exact ? 1 : 2, targets: [] });
    [this.points, this.down] = [this.program(POINTS, BELL), this.program(DOWN, DOT)];
    [this.shrink, this.blur, this.backdrop, this.add, this.spill, this.finish] = [SHRINK, BLUR, FAR, ADD, SPILL, FINISH].map((text) => this.program(SHEET, text));
    this.array = gl.createVertexArray();
    gl.bindVertexArray(this.array);
    this.attribute("place", places, 3, gl.FLOAT, false, gl.STATIC_DRAW);
    this.colours = this.attribute("colour", new Uint8Array(4 * this.count), 4, gl.UNSIGNED_BYTE, true, gl.DYNAMIC_DRAW);
    this.looks = this.attribute("looks", new Float32Array(this.count).fill(1), 1, gl.FLOAT, false, gl.DYNAMIC_DRAW);
    this.places = places;
    this.map = mapOf(places, ground);
    this.maps = [0, 1, 2].map(() => this.target(this.map.wide, this.map.deep, gl.RGBA16F));
    [this.behind, this.photo] = [this.texture(), this.texture()];
    this.setBehind(null, null);
  }

  program(vertex, fragment) {
    const { gl } = this, made = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(made, shader);
    }
    gl.bindAttribLocation(made, 0, "place");
    gl.bindAttribLocation(made, 1, "colour");
    gl.bindAttribLocation(made, 2, "looks");
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made) || "no shader");
    const names = Array.from({ length: gl.getProgramParameter(made, gl.ACTIVE_UNIFORMS) },
      (_, i) => gl.getActiveUniform(made, i).name);
    return { made, at: Object.fromEntries(names.map((name) => [name, gl.getUniformLocation(made, name)])) };
  }

  attribute(name, data, width, kind, normal, use) {
    const { gl } = this, buffer = gl.createBuffer(), at = ["place", "colour", "looks"].indexOf(name);
    gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
    gl.bufferData(gl.ARRAY_BUFFER, data, use);
    gl.enableVertexAttribArray(at);
    gl.vertexAttribPointer(at, width, kind, normal, 0, 0);
    return buffer;
  }

  texture() {
    const { gl } = this, made = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, made);
    for (const side of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, side, gl.LINEAR);
    for (const side of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(gl.TEXTURE_2D, side, gl.CLAMP_TO_EDGE);
    return made;
  }

  // Canvases with the shape of the house and stars, and with the photo; null for none.
  setBehind(shape, photo) {
    const { gl } = this;
    this.seen = "";
    for (const [texture, picture] of [[this.behind, shape], [this.photo, photo]]) {
      gl.bindTexture(gl.TEXTURE_2D, texture);
      if (picture) gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, gl.RGBA, gl.UNSIGNED_BYTE, picture);
      else gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, 1, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
    }
  }

  // How bright each light looks from where the eye is now.
  setLooks(view, size) {
    const { gl } = this;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.looks);
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, looksOf(view, this.places, size));
    this.seen = "";
  }

  target(width, height, format = this.format) {
    const { gl } = this, texture = this.texture(), frame = gl.createFramebuffer();
    gl.texStorage2D(gl.TEXTURE_2D, 1, format, width, height);
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, texture, 0);
    if (gl.checkFramebufferStatus(gl.FRAMEBUFFER) !== gl.FRAMEBUFFER_COMPLETE) throw new Error("no target");
    return { texture, frame, width, height };
  }

  resize(width, height) {
    const { gl } = this;
    for (const { texture, frame } of this.targets) { gl.deleteTexture(texture); gl.deleteFramebuffer(frame); }
    this.scale = Math.min(width / 1280, height / 720);
    this.steps = [1, 2, 8, 32].map((step) => 2 ** Math.max(0, Math.round(Math.log2(step * Math.max(this.scale, 0.3)))));
    [1, 2, 4, 16].forEach((least, level) => { this.steps[level] = level ? Math.max(least, this.steps[level]) : 1; });
    const sizes = this.steps.map((step) => [Math.ceil(width / step), Math.ceil(height / step)]);
    this.targets = [...sizes, sizes[2], sizes[3], sizes[0]].map(([w, h]) => this.target(w, h));
    this.seen = "";
  }

  draw(colours, view) {
    const { gl } = this, [disc, halo, bloom, haze, spare, small, far] = this.targets;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.colours);
    const curve = this.power === 1 ? (x) => x : (x) => x * x;
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, this.group > 1 ? Uint8Array.from(grouped(colours, this.group, 4, 3, curve), this.power === 1 ? Math.round : Math.sqrt) : colours);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.ONE, gl.ONE);
    gl.useProgram(this.points.made);
    const at = this.points.at;
    this.eye(at, view);
    gl.uniform1f(at.bend, view.bend);
    gl.uniform1f(at.root, this.power - 1);
    const stands = JSON.stringify(view);
    if (this.seen !== stands) {
      this.seen = stands;
      gl.disable(gl.BLEND);
      const horizon = Math.max(-1, view.horizon / this.canvas.height);
      this.sheet(this.backdrop, far, { behind: this.behind, photo: this.photo }, { horizon, tall: this.canvas.height });
      gl.enable(gl.BLEND);
      gl.useProgram(this.points.made);
      gl.blendEquation(gl.MAX); // where lamps that are off crowd, they show no more than one
      this.bells(far, GLOWS[0], 1, UNLIT);
      gl.blendEquation(gl.FUNC_ADD);
    }
    for (const target of [disc, halo]) { this.into(target); gl.clear(gl.COLOR_BUFFER_BIT); }
    this.bells(disc, GLOWS[0], 1, 0);
    this.bells(halo, GLOWS[1], this.steps[1], 0);
    gl.disable(gl.BLEND);
    this.widen(halo, bloom, spare, 2);
    this.widen(bloom, haze, small, 3);
    gl.enable(gl.BLEND);
    this.sheet(this.add, bloom, { wide: haze.texture }, {});
    this.sheet(this.add, halo, { wide: bloom.texture }, {});
    this.spillOn(halo, view);
    gl.disable(gl.BLEND);
    this.sheet(this.finish, null, { far: far.texture, disc: disc.texture, wide: halo.texture }, {});
  }

  eye(at, { eye, axes, focal, column, row }) {
    const { gl } = this;
    gl.uniform3fv(at.eye, eye);
    gl.uniformMatrix3fv(at.axes, false, axes);
    gl.uniform3f(at.lens, focal, column, row);
    gl.uniform2f(at.size, this.canvas.width, this.canvas.height);
  }

  // What the lights spill on the ground, added to a target.
  spillOn(target, view) {
    const { gl, map, maps, down } = this, place = [...map.low, map.cell, map.height];
    SPREADS.forEach(([metres, amount], spread) => {
      this.into(maps[spread]);
      gl.clear(gl.COLOR_BUFFER_BIT);
      gl.useProgram(down.made);
      gl.uniform4fv(down.at.map, place);
      gl.uniform2f(down.at.cells, map.wide, map.deep);
      for (const [name, value] of Object.entries({ root: this.power - 1, amount: amount * this.group, spread })) gl.uniform1f(down.at[name], value);
      gl.drawArrays(gl.POINTS, 0, this.count);
      const sigma = metres / map.cell;
      gl.disable(gl.BLEND);
      for (const [from, to, way] of [[maps[spread], maps[2], [1 / map.wide, 0]], [maps[2], maps[spread], [0, 1 / map.deep]]]) {
        this.sheet(this.blur, to, { wide: from.texture }, { step_: way, narrow: 1 / (2 * sigma * sigma), reach: Math.ceil(2.6 * sigma) });
      }
      gl.enable(gl.BLEND);
    });
    gl.useProgram(this.spill.made);
    this.eye(this.spill.at, view);
    gl.uniform4fv(this.spill.at.map, place);
    this.sheet(this.spill, target, { low: maps[0].texture, high: maps[1].texture, behind: this.behind }, { cells: [map.wide, map.deep] });
  }

  // Every light as a bell on a canvas that is ``step`` times coarser.
  bells(target, [radius, share], step, moon) {
    const { gl } = this, at = this.points.at, sigma = Math.max(this.sigma(radius) / step, 0.5);
    this.into(target);
    gl.uniform1f(at.moon, moon);
    gl.uniform1f(at.bright, this.group * EXPOSURE * this.scale * share * 1.125 / (2 * Math.PI * (sigma * step) ** 2));
    gl.uniform1f(at.point, Math.ceil(5.2 * sigma));
    gl.uniform1f(at.narrow, 1 / (2 * sigma * sigma));
    gl.drawArrays(gl.POINTS, 0, this.count);
  }

  sigma(radius) { return Math.max(radius * this.scale, 0.5); }

  // The next wider glow: the narrower one on a coarser canvas, blurred.
  widen(narrow, wide, spare, level) {
    const step = this.steps[level], [wished, before] = [GLOWS[level], GLOWS[level - 1]];
    // What the narrower glow and the shrinking have spread already is left out.
    const sigma = Math.sqrt(Math.max(0.3, (this.sigma(wished[0]) ** 2 - this.sigma(before[0]) ** 2) / step ** 2));
    const grain = [1 / narrow.width, 1 / narrow.height];
    this.sheet(this.shrink, wide, { wide: narrow.texture }, { grain, factor: wished[1] / before[1] });
    for (const [from, to, way] of [[wide, spare, [1 / wide.width, 0]], [spare, wide, [0, 1 / wide.height]]]) {
      this.sheet(this.blur, to, { wide: from.texture }, { step_: way, narrow: 1 / (2 * sigma * sigma), reach: Math.ceil(2.6 * sigma) });
    }
  }

  // Fill a target (null: the canvas) with what a program makes of textures and numbers.
  sheet(program, target, textures, numbers) {
    const { gl } = this;
    this.into(target);
    gl.useProgram(program.made);
    Object.entries(textures).forEach(([name, texture], unit) => {
      gl.activeTexture(gl.TEXTURE0 + unit);
      gl.bindTexture(gl.TEXTURE_2D, texture);
      gl.uniform1i(program.at[name], unit);
    });
    for (const [name, value] of Object.entries(numbers)) {
      if (Array.isArray(value)) gl.uniform2fv(program.at[name], value);
      else gl.uniform1f(program.at[name], value);
    }
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }

  into(target) {
    this.gl.bindFramebuffer(this.gl.FRAMEBUFFER, target ? target.frame : null);
    this.gl.viewport(0, 0, target ? target.width : this.canvas.width, target ? target.height : this.canvas.height);
  }
}
