// Fewer faces on the same vertices. usage: node simplify.mjs PLACES FACES OUT COUNT   (raw 32-bit floats and indices)
import {MeshoptSimplifier} from 'meshoptimizer';
import fs from 'fs';

await MeshoptSimplifier.ready;
const [places, faces, out, count] = process.argv.slice(2);
const raw = (file, kind) => {
  const b = fs.readFileSync(file);
  return new kind(b.buffer.slice(b.byteOffset, b.byteOffset + b.byteLength));
};
const [less, error] = MeshoptSimplifier.simplify(raw(faces, Uint32Array), raw(places, Float32Array), 3, parseInt(count) * 3, 0.05, []);
fs.writeFileSync(out, Buffer.from(new Uint32Array(less).buffer));
console.log(less.length / 3, 'faces, error', error);
