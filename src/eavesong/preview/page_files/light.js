// The lights in WebGL2: glows of four widths that add up in linear light, then one tone curve. The numbers are those
// of night.py, so that the page and the stills look alike.
import { axes } from "./camera.js";

export const GLOWS = [[0.9, 1.0], [3.2, 0.5], [14.0, 0.55], [60.0, 0.5]], EXPOSURE = 16, UNLIT = 0.006;

// Lights that are off are not drawn: the hint of the moon on them stands in the far picture.
const POINTS = `#version 300 es
precision highp float;
in vec3 place; in vec3 colour;
uniform vec3 right, up, put; uniform vec2 size; uniform float point, root, bright, moon;
out vec3 lit;
void main() {
  vec2 at = vec2(put.y + dot(right, place) * put.x, put.z - dot(up, place) * put.x);
  lit = (colour * mix(vec3(1.0), colour, root) * (1.0 - step(0.000001, moon)) + moon) * bright;
  bool dark = lit.r + lit.g + lit.b <= 0.0;
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

// The scene without lights: sky or earth, the dark house, the photo. Drawn once for each size and view.
const FAR = `#version 300 es
precision highp float;
in vec2 at; out vec4 colour;
uniform sampler2D behind, photo; uniform float ground, street;
void main() {
  float row = 1.0 - at.y;
  vec4 shape = texture(behind, vec2(at.x, row)), seen = texture(photo, vec2(at.x, row));
  vec3 sky = mix(vec3(0.0006, 0.0010, 0.0030), vec3(0.0040, 0.0056, 0.0125), pow(row / ground, 2.0)) + 0.11 * shape.g;
  vec3 earth = vec3(0.0016, 0.0019, 0.0026) * mix(1.0, 0.4, (row - ground) / max(1.0 - ground, 0.001));
  vec3 scene = row < ground ? mix(sky, vec3(0.0010, 0.0012, 0.0024), shape.r) : earth;
  scene = mix(scene, pow(seen.rgb, vec3(2.2)) * vec3(0.0375, 0.044, 0.0625), seen.a);
  colour = vec4(mix(vec3(0.00096, 0.00114, 0.00156), scene, street), 1.0);
}`;

// A wide glow added to the canvas of the next finer one.
const ADD = `#version 300 es
precision highp float;
in vec2 at; out vec4 colour; uniform sampler2D wide;
void main() { colour = texture(wide, at); }`;

// What the lights spill on the ground before the house: their wide glow mirrored, spread and fading with distance.
const SPILL = `#version 300 es
precision highp float;
in vec2 at; out vec4 colour; uniform sampler2D wide; uniform float ground, street;
void main() {
  float away = 1.0 - at.y - ground;
  vec3 total = vec3(0.0);
  for (int i = -3; i <= 3; i++) {
    for (int k = -1; k <= 1; k++) {
      float high = max(ground - 4.0 * away - 0.045 * float(k) - 0.012 * float(i & 1), 0.0);
      total += texture(wide, vec2(at.x + float(i) * 0.016, 1.0 - min(high, ground))).rgb;
    }
  }
  colour = vec4(step(0.0, away) * street * 2.0 / 21.0 * total * mix(0.30, 0.04, away / (1.0 - ground)), 1.0);
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
  constructor(canvas, places, exact) {
    const gl = canvas.getContext("webgl2", { antialias: false, alpha: false, depth: false, powerPreference: "low-power" });
    const whole = gl?.getExtension("EXT_color_buffer_float");
    if (!whole && !gl?.getExtension("EXT_color_buffer_half_float")) throw new Error("no WebGL2 with light beyond white");
    // Of very many lights, as many as share an element of a screen are drawn as one, with the light of all of them.
    this.group = Math.ceil(places.length / 3 / MOST);
    places = this.group > 1 ? grouped(places, this.group, 3, 3, (x) => x) : places;
    Object.assign(this, { format: whole ? gl.R11F_G11F_B10F : gl.RGBA16F, gl, canvas, count: places.length / 3, power: exact ? 1 : 2, targets: [] });
    this.points = this.program(POINTS, BELL);
    [this.shrink, this.blur, this.backdrop, this.add, this.spill, this.finish] = [SHRINK, BLUR, FAR, ADD, SPILL, FINISH].map((text) => this.program(SHEET, text));
    this.array = gl.createVertexArray();
    gl.bindVertexArray(this.array);
    this.attribute("place", places, 3, gl.FLOAT, false, gl.STATIC_DRAW);
    this.colours = this.attribute("colour", new Uint8Array(4 * this.count), 4, gl.UNSIGNED_BYTE, true, gl.DYNAMIC_DRAW);
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
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made) || "no shader");
    const names = Array.from({ length: gl.getProgramParameter(made, gl.ACTIVE_UNIFORMS) },
      (_, i) => gl.getActiveUniform(made, i).name);
    return { made, at: Object.fromEntries(names.map((name) => [name, gl.getUniformLocation(made, name)])) };
  }

  attribute(name, data, width, kind, normal, use) {
    const { gl } = this, buffer = gl.createBuffer(), at = name === "place" ? 0 : 1;
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

  target(width, height) {
    const { gl } = this, texture = this.texture(), frame = gl.createFramebuffer();
    gl.texStorage2D(gl.TEXTURE_2D, 1, this.format, width, height);
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

  draw(colours, view, ground) {
    const { gl } = this, [disc, halo, bloom, haze, spare, small, far] = this.targets;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.colours);
    const curve = this.power === 1 ? (x) => x : (x) => x * x;
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, this.group > 1 ? Uint8Array.from(grouped(colours, this.group, 4, 3, curve), this.power === 1 ? Math.round : Math.sqrt) : colours);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.ONE, gl.ONE);
    gl.useProgram(this.points.made);
    const { right, up } = axes(view.turn, view.rise), at = this.points.at;
    gl.uniform3fv(at.right, right);
    gl.uniform3fv(at.up, up);
    gl.uniform3f(at.put, view.scale, view.left, view.top);
    gl.uniform2f(at.size, this.canvas.width, this.canvas.height);
    gl.uniform1f(at.root, this.power - 1);
    const stands = JSON.stringify([view, ground]);
    if (this.seen !== stands) {
      this.seen = stands;
      gl.disable(gl.BLEND);
      this.sheet(this.backdrop, far, { behind: this.behind, photo: this.photo }, { ground, street: view.street });
      gl.enable(gl.BLEND);
      gl.useProgram(this.points.made);
      this.bells(far, GLOWS[0], 1, UNLIT);
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
    if (view.street) {
      gl.enable(gl.SCISSOR_TEST);
      gl.scissor(0, 0, halo.width, Math.ceil(halo.height * (1 - ground)) + 1);
      this.sheet(this.spill, halo, { wide: bloom.texture }, { ground, street: view.street });
      gl.disable(gl.SCISSOR_TEST);
    }
    gl.disable(gl.BLEND);
    this.sheet(this.finish, null, { far: far.texture, disc: disc.texture, wide: halo.texture }, {});
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
