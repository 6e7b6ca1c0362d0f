// Characters out of their compressed GLB files: for each a folder with a.json (nodes, skins, where each array lies), a.bin (all numbers as
// 32-bit floats) and its pictures. usage: node unpack_characters.mjs OUT FILE.glb [FILE.glb ...]
// needs: npm install @gltf-transform/core @gltf-transform/extensions meshoptimizer
import {NodeIO} from '@gltf-transform/core';
import {ALL_EXTENSIONS} from '@gltf-transform/extensions';
import {MeshoptDecoder} from 'meshoptimizer';
import fs from 'fs';
import path from 'path';

await MeshoptDecoder.ready;
const io = new NodeIO().registerExtensions(ALL_EXTENSIONS).registerDependencies({'meshopt.decoder': MeshoptDecoder});
const endings = {'image/webp': 'webp', 'image/png': 'png', 'image/jpeg': 'jpg'};

for (const file of process.argv.slice(3)) {
  const root = (await io.read(file)).getRoot();
  const out = path.join(process.argv[2], path.basename(file, '.glb'));
  fs.mkdirSync(out, {recursive: true});
  const nodes = root.listNodes(), skins = root.listSkins(), pictures = root.listTextures();
  const number = new Map(nodes.map((node, i) => [node, i]));
  const parts = [];
  let at = 0;
  const put = (values) => {
    const floats = new Float32Array(values);
    parts.push(Buffer.from(floats.buffer));
    at += floats.length;
    return [at - floats.length, floats.length];
  };
  // through getElement, which undoes the files' quantisation
  const numbers = (accessor) => {
    const width = accessor.getElementSize(), values = new Float32Array(accessor.getCount() * width), one = [];
    for (let i = 0; i < accessor.getCount(); i++) values.set(accessor.getElement(i, one), i * width);
    return put(values);
  };
  const info = {
    nodes: nodes.map((n) => ({name: n.getName(), matrix: n.getWorldMatrix(), parent: n.getParentNode() ? number.get(n.getParentNode()) : -1})),
    skins: skins.map((s) => ({joints: s.listJoints().map((j) => number.get(j)), ibm: Array.from(s.getInverseBindMatrices().getArray())})),
    textures: [], prims: [],
  };
  pictures.forEach((picture, i) => {
    const name = `t${i}.${endings[picture.getMimeType()] || 'bin'}`;
    fs.writeFileSync(path.join(out, name), picture.getImage());
    info.textures.push(name);
  });
  for (const node of nodes) {
    for (const prim of node.getMesh() ? node.getMesh().listPrimitives() : []) {
      const material = prim.getMaterial(), picture = material && material.getBaseColorTexture();
      const entry = {
        mesh: node.getMesh().getName(), skin: node.getSkin() ? skins.indexOf(node.getSkin()) : -1,
        texture: picture ? pictures.indexOf(picture) : -1, indices: put(prim.getIndices().getArray()),
      };
      for (const semantic of prim.listSemantics()) entry[semantic] = numbers(prim.getAttribute(semantic));
      info.prims.push(entry);
    }
  }
  fs.writeFileSync(path.join(out, 'a.bin'), Buffer.concat(parts));
  fs.writeFileSync(path.join(out, 'a.json'), JSON.stringify(info));
  console.log(out, info.prims.length, 'meshes,', at, 'numbers');
}
