// The picture in three dimensions. This module and the library that it draws
// with are fetched only when the picture is asked for. Lengths in metres,
// season frame, z upwards. Drawn only when something has changed.
import {
  AmbientLight,
  BoxGeometry,
  BufferAttribute,
  BufferGeometry,
  Color,
  CylinderGeometry,
  DirectionalLight,
  DoubleSide,
  Group,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshLambertMaterial,
  PerspectiveCamera,
  PlaneGeometry,
  Scene as World,
  SphereGeometry,
  Spherical,
  Vector3,
  WebGLRenderer,
  type Material,
} from 'three';
import { OrbitControls } from 'three/examples/jsm/controls/OrbitControls.js';
import type { BodyKnobs } from '$lib/api/stimulus';
import type { Mesh as Surface } from '$lib/draw/iso-surface';
import type { Paint } from '$lib/draw/picture';
import { niceStep } from '$lib/draw/scale';
import { bottomM, surfaceM } from '$lib/draw/solids';
import { electrodesOf, type Things } from './things';

export interface Shell {
  surface: Surface;
  paint: Paint;
}

export type Ink = (paint: Paint) => string;

/** Electrodes of two millimetres would be lost in a picture of a metre: they are drawn at least this share of its half width. */
const smallest = 0.008;
const farthestTurn = Math.PI - 0.05;

export class Space {
  readonly #renderer: WebGLRenderer;
  readonly #world = new World();
  readonly #camera = new PerspectiveCamera(40, 1, 0.001, 200);
  readonly #controls: OrbitControls;
  readonly #sizes: ResizeObserver;
  #contents = new Group();
  #waiting = 0;
  #half = 0;

  constructor(private readonly host: HTMLElement) {
    this.#renderer = new WebGLRenderer({ antialias: true });
    this.#renderer.setPixelRatio(Math.min(2, devicePixelRatio));
    host.append(this.#renderer.domElement);
    const key = new DirectionalLight(0xffffff, 2);
    key.position.set(0.4, -0.7, 1);
    this.#camera.up.set(0, 0, 1);
    this.#world.add(new AmbientLight(0xffffff, 1.8), key, this.#contents);
    this.#controls = new OrbitControls(this.#camera, this.#renderer.domElement);
    // The page itself scrolls by the wheel, until somebody has chosen the picture.
    this.#controls.enableZoom = false;
    this.#controls.enablePan = false;
    this.#controls.maxPolarAngle = farthestTurn;
    this.#controls.addEventListener('change', () => this.draw());
    this.#sizes = new ResizeObserver(() => this.#resize());
    this.#sizes.observe(host);
  }

  set wheel(on: boolean) {
    this.#controls.enableZoom = on;
  }

  /** show puts new contents in the place of the old; the eye stays where it is unless the size has changed much. */
  show(shells: readonly Shell[], things: Things, ink: Ink): void {
    this.#empty();
    this.#world.background = new Color(ink('surface'));
    this.#contents.add(...solids(things, ink), ...floor(things, ink), ...shells.map((s, i) => shellOf(s, i, ink)));
    if (this.#half === 0 || Math.max(things.half / this.#half, this.#half / things.half) > 1.5) {
      this.#half = things.half;
      this.look('side');
    }
    this.#centre(things);
    this.draw();
  }

  /** look stands the eye above or at the side. */
  look(from: 'above' | 'side'): void {
    // A tall picture sees less to the sides.
    const distance = this.#half * 3.6 * Math.max(1, 1.2 / this.#camera.aspect);
    const polar = from === 'above' ? 0.01 : 1.15;
    this.#place(new Spherical(distance, polar, from === 'above' ? 0 : 0.5));
  }

  /** The eye looks at the middle of the box, and moves with it. */
  #centre({ centre: [x, y], highest }: Things): void {
    const middle = new Vector3(x, y, highest * 0.3);
    this.#camera.position.add(middle.clone().sub(this.#controls.target));
    this.#controls.target.copy(middle);
    this.#controls.update();
  }

  /** turn moves the eye round the picture, radians: to the right, and downwards. */
  turn(right: number, down: number): void {
    const eye = this.#eye();
    eye.theta += right;
    eye.phi = Math.min(farthestTurn, Math.max(0.01, eye.phi + down));
    this.#place(eye);
  }

  /** zoom brings the picture nearer (below 1) or farther. */
  zoom(factor: number): void {
    const eye = this.#eye();
    eye.radius = Math.min(this.#half * 20, Math.max(this.#half * 0.3, eye.radius * factor));
    this.#place(eye);
  }

  /** The eye in spherical coordinates about z; three measures them about y. */
  #eye(): Spherical {
    const d = this.#camera.position.clone().sub(this.#controls.target);
    return new Spherical().setFromVector3(new Vector3(d.x, d.z, -d.y));
  }

  #place(eye: Spherical): void {
    const d = new Vector3().setFromSpherical(eye);
    this.#camera.position.copy(this.#controls.target).add(new Vector3(d.x, -d.z, d.y));
    this.#controls.update();
    this.draw();
  }

  draw(): void {
    if (this.#waiting) return;
    this.#waiting = requestAnimationFrame(() => this.#now());
  }

  #now(): void {
    cancelAnimationFrame(this.#waiting);
    this.#waiting = 0;
    this.#renderer.render(this.#world, this.#camera);
  }

  #resize(): void {
    const { clientWidth: w, clientHeight: h } = this.host;
    if (w === 0 || h === 0) return;
    this.#renderer.setSize(w, h);
    this.#camera.aspect = w / h;
    this.#camera.updateProjectionMatrix();
    this.#now();
  }

  /** png is what is seen, as a file. */
  png(): Promise<Blob> {
    this.#now(); // the drawing buffer is kept only until the browser has shown it
    return new Promise((resolve, reject) =>
      this.#renderer.domElement.toBlob((blob) => (blob ? resolve(blob) : reject(new Error('no image'))), 'image/png'),
    );
  }

  #empty(): void {
    this.#contents.traverse((o) => {
      if (!(o instanceof Mesh || o instanceof LineSegments)) return;
      (o.geometry as BufferGeometry).dispose();
      (o.material as Material).dispose();
    });
    this.#contents.clear();
  }

  close(): void {
    cancelAnimationFrame(this.#waiting);
    this.#sizes.disconnect();
    this.#controls.dispose();
    this.#empty();
    this.#renderer.dispose();
    this.#renderer.forceContextLoss();
    this.#renderer.domElement.remove();
  }
}

function shellOf({ surface, paint }: Shell, i: number, ink: Ink): Mesh {
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(surface.positions, 3));
  geometry.setIndex(new BufferAttribute(surface.triangles, 1));
  geometry.computeVertexNormals();
  const mesh = new Mesh(
    geometry,
    new MeshLambertMaterial({
      color: ink(paint),
      transparent: true,
      opacity: 0.5,
      side: DoubleSide,
      depthWrite: false,
    }),
  );
  // The smallest shell lies within the others, so it is painted first.
  mesh.renderOrder = 10 - i;
  return mesh;
}

const matter = (colour: string, opacity = 1) =>
  new MeshLambertMaterial({ color: colour, transparent: opacity < 1, opacity, side: DoubleSide });

function solids({ knobs, half }: Things, ink: Ink): Mesh[] {
  const plates = knobs.plates.map((p) => {
    const flat =
      p.shape === 'disc'
        ? new CylinderGeometry((p.diameter_m ?? 0) / 2, (p.diameter_m ?? 0) / 2, p.thickness_m, 64).rotateX(Math.PI / 2)
        : new BoxGeometry(p.size_m?.[0] ?? 0, p.size_m?.[1] ?? 0, p.thickness_m);
    const mesh = new Mesh(flat, matter(ink('edge')));
    mesh.position.set(p.centre_m[0] ?? 0, p.centre_m[1] ?? 0, -p.thickness_m / 2);
    mesh.rotation.z = rad(p.yaw_deg);
    return mesh;
  });
  const electrodes = electrodesOf(knobs).map((e) => {
    const mesh = new Mesh(
      new SphereGeometry(Math.max(e.diameter / 2, smallest * half), 20, 14),
      matter(ink(e.driven ? 'accent' : 'soft')),
    );
    mesh.position.set(...e.at);
    return mesh;
  });
  return [...plates, ...electrodes, ...knobs.bodies.map((b) => bodyOf(b, ink))];
}

const rad = (deg: number) => (deg * Math.PI) / 180;

function bodyOf(body: BodyKnobs, ink: Ink): Mesh {
  const [a, b, c] = [body.size_m[0] ?? 0, body.size_m[1] ?? 0, body.size_m[2] ?? 0];
  const shapes = {
    box: () => new BoxGeometry(a, b, c),
    cylinder: () => new CylinderGeometry(b / 2, b / 2, a, 40).rotateZ(Math.PI / 2),
    spheroid: () => new SphereGeometry(0.5, 40, 24).scale(a, b, b),
  };
  const mesh = new Mesh((shapes[body.shape as keyof typeof shapes] ?? shapes.box)(), matter(ink('soft'), 0.75));
  mesh.position.set(body.centre_m[0] ?? 0, body.centre_m[1] ?? 0, body.centre_m[2] ?? 0);
  // First the pitch, nose up, about the body's own y; then the yaw about z.
  mesh.rotation.order = 'ZYX';
  mesh.rotation.set(0, -rad(body.pitch_deg), rad(body.yaw_deg));
  return mesh;
}

/** floor is the bottom with a grid of even steps, the direction of +x, and the water's surface where it is in the picture. */
function floor({ knobs, half, centre, highest }: Things, ink: Ink): (Mesh | LineSegments)[] {
  const bottom = bottomM(knobs);
  const wide = half * 1.25;
  const ground = new Mesh(new PlaneGeometry(2 * wide, 2 * wide), matter(ink('sunk'), 0.85));
  // A hair lower, so that a plate flush with it is seen whole.
  ground.position.set(centre[0], centre[1], bottom - half * 0.004);
  const step = niceStep(half / 4);
  const lines: number[] = [];
  const ends = [-wide, wide];
  for (let i = Math.ceil(-wide / step); i * step <= wide; i++) {
    for (const e of ends) lines.push(centre[0] + i * step, centre[1] + e, 0);
    for (const e of ends) lines.push(centre[0] + e, centre[1] + i * step, 0);
  }
  const grid = linesOf(lines, bottom, ink('line'));
  const tip = wide * 1.12;
  const [x, y] = centre;
  const arrow = linesOf(
    [
      ...[x, y, 0, x + tip, y, 0],
      ...[x + tip, y, 0, x + tip - step / 3, y + step / 5, 0],
      ...[x + tip, y, 0, x + tip - step / 3, y - step / 5, 0],
    ],
    bottom + half * 0.002,
    ink('ink'),
  );
  const parts: (Mesh | LineSegments)[] = [ground, grid, arrow];
  const above = surfaceM(knobs);
  if (above !== null && above < highest * 1.5) {
    const surface = new Mesh(new PlaneGeometry(2 * wide, 2 * wide), matter(ink('wash'), 0.35));
    surface.position.set(x, y, above);
    parts.push(surface);
  }
  return parts;
}

function linesOf(places: number[], z: number, colour: string): LineSegments {
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(Float32Array.from(places), 3));
  const lines = new LineSegments(geometry, new LineBasicMaterial({ color: colour }));
  lines.position.z = z;
  return lines;
}
