// The light by the graphics card (WebGL2): each pixel is looked up in the table of
// tone.ts, by its own place in the picture and its grey value.
import { levels, mostColour, tiles, weightsOf } from './tone';
import type { Sized } from './grey';

const corners = `#version 300 es
void main() {
  vec2 corner = vec2(gl_VertexID & 1, gl_VertexID >> 1);
  gl_Position = vec4(corner * 4.0 - 1.0, 0.0, 1.0);
}`;

// Pixels are fetched, not sampled: none moves. The picture's first row is on top.
const pixels = `#version 300 es
precision highp float;
precision highp sampler3D;
uniform sampler2D picture;
uniform sampler3D curves;
uniform vec3 weights;
uniform vec2 size;
uniform bool grey;
out vec4 colour;
void main() {
  ivec2 at = ivec2(int(gl_FragCoord.x), int(size.y) - 1 - int(gl_FragCoord.y));
  vec3 c = texelFetch(picture, at, 0).rgb;
  float luma = dot(c, weights);
  float level = (sqrt(luma) * ${(levels - 1).toFixed(1)} + 0.5) / ${levels.toFixed(1)};
  float to = texture(curves, vec3(level, (vec2(at) + 0.5) / size)).r;
  float gain = min(${mostColour.toFixed(1)}, to / max(4.0 / 255.0, luma));
  colour = vec4(grey ? vec3(to) : vec3(to) + gain * (c - luma), 1.0);
}`;

export class LightCard {
  readonly canvas: HTMLCanvasElement | OffscreenCanvas;
  #gl: WebGL2RenderingContext;
  #place: Record<'weights' | 'size' | 'grey', WebGLUniformLocation | null>;
  #picture: WebGLTexture | null;
  #curves: WebGLTexture | null;
  #size = [0, 0];

  private constructor(gl: WebGL2RenderingContext, program: WebGLProgram) {
    this.#gl = gl;
    this.canvas = gl.canvas;
    gl.useProgram(program);
    const at = (name: string): WebGLUniformLocation | null => gl.getUniformLocation(program, name);
    this.#place = { weights: at('weights'), size: at('size'), grey: at('grey') };
    gl.uniform1i(at('picture'), 0);
    gl.uniform1i(at('curves'), 1);
    gl.pixelStorei(gl.UNPACK_COLORSPACE_CONVERSION_WEBGL, gl.NONE);
    this.#picture = texture(gl, gl.TEXTURE_2D, gl.NEAREST, 0);
    this.#curves = texture(gl, gl.TEXTURE_3D, gl.LINEAR, 1);
  }

  /** make is undefined where this browser has no WebGL2, or has the processor do the card's work: the plain way is quicker then. */
  static make(imitations = false): LightCard | undefined {
    if (typeof WebGL2RenderingContext === 'undefined') return undefined;
    const canvas =
      typeof OffscreenCanvas === 'undefined' ? document.createElement('canvas') : new OffscreenCanvas(1, 1);
    const gl = canvas.getContext('webgl2', {
      alpha: false,
      antialias: false,
      depth: false,
    }) as WebGL2RenderingContext | null;
    if (!gl || (!imitations && imitated(gl))) return undefined;
    const program = built(gl);
    return program ? new LightCard(gl, program) : undefined;
  }

  get lost(): boolean {
    return this.#gl.isContextLost();
  }

  /** paint draws the picture on the card's own canvas. */
  paint(picture: Sized, curves: Float32Array, grey: boolean): void {
    const gl = this.#gl;
    const { width, height } = picture;
    if (this.#size[0] !== width || this.#size[1] !== height) {
      this.#size = [width, height];
      this.canvas.width = width;
      this.canvas.height = height;
      gl.viewport(0, 0, width, height);
    }
    gl.activeTexture(gl.TEXTURE0);
    gl.bindTexture(gl.TEXTURE_2D, this.#picture);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE, picture as TexImageSource);
    gl.activeTexture(gl.TEXTURE1);
    gl.bindTexture(gl.TEXTURE_3D, this.#curves);
    // Half floats are interpolated by every card; sixteen bits are enough for a curve.
    gl.texImage3D(gl.TEXTURE_3D, 0, gl.R16F, levels, tiles, tiles, 0, gl.RED, gl.FLOAT, curves);
    gl.uniform3fv(this.#place.weights, weightsOf(grey));
    gl.uniform2f(this.#place.size, width, height);
    gl.uniform1i(this.#place.grey, grey ? 1 : 0);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }

  close(): void {
    this.#gl.getExtension('WEBGL_lose_context')?.loseContext();
  }
}

function imitated(gl: WebGL2RenderingContext): boolean {
  const named = gl.getExtension('WEBGL_debug_renderer_info');
  return /swiftshader|llvmpipe|softpipe|software/i.test(
    String(gl.getParameter(named ? named.UNMASKED_RENDERER_WEBGL : gl.RENDERER)),
  );
}

function texture(gl: WebGL2RenderingContext, target: GLenum, filter: GLint, unit: number): WebGLTexture | null {
  const t = gl.createTexture();
  gl.activeTexture(gl.TEXTURE0 + unit);
  gl.bindTexture(target, t);
  gl.texParameteri(target, gl.TEXTURE_MIN_FILTER, filter);
  gl.texParameteri(target, gl.TEXTURE_MAG_FILTER, filter);
  for (const side of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(target, side, gl.CLAMP_TO_EDGE);
  if (target === gl.TEXTURE_3D) gl.texParameteri(target, gl.TEXTURE_WRAP_R, gl.CLAMP_TO_EDGE);
  return t;
}

function built(gl: WebGL2RenderingContext): WebGLProgram | undefined {
  const program = gl.createProgram();
  if (!program) return undefined;
  for (const [kind, source] of [[gl.VERTEX_SHADER, corners] as const, [gl.FRAGMENT_SHADER, pixels] as const]) {
    const shader = gl.createShader(kind);
    if (!shader) return undefined;
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  return gl.getProgramParameter(program, gl.LINK_STATUS) ? program : undefined;
}
