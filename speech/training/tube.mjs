// Speaks lines of "file, text, voice, tract length offset in cm, pitch offset in semitones, tempo" (tabs between)
// with the articulatory synthesiser gnuspeech: npm install @echogarden/gnuspeech-wasm in the folder TUBE_PATH.
import { readFileSync, writeFileSync } from 'fs'
import path from 'path'
const at = path.join(process.env.TUBE_PATH ?? '.', 'node_modules/@echogarden/gnuspeech-wasm')
const { default: init } = await import(path.join(at, 'wasm/gnuspeech.js'))
const m = await init()
const voices = ['male', 'female', 'large_child']
const read = f => new TextDecoder().decode(m.FS.readFile('/data/en/' + f))
const control = read('trm_control_model.txt'), trm = read('trm.txt')
const ref = s => { const p = m._malloc(s.length * 3 + 1); m.stringToUTF8 ? m.stringToUTF8(s, p, s.length * 3 + 1) : new Uint8Array(m.HEAPU8.buffer).set([...new TextEncoder().encode(s), 0], p); return p }
for (const line of readFileSync(0, 'utf8').split('\n')) {
	if (!line) continue
	const [file, text, voice, tract, pitch, tempo] = line.split('\t')
	m.FS.writeFile('/data/en/trm_control_model.txt', control.replace(/^voice_name = .*/m, 'voice_name = ' + voices[voice]).replace(/^tempo = .*/m, 'tempo = ' + tempo).replace(/^pitch_offset = .*/m, 'pitch_offset = ' + pitch))
	m.FS.writeFile('/data/en/trm.txt', trm.replace(/^vocal_tract_length_offset = .*/m, 'vocal_tract_length_offset = ' + tract))
	const refs = [text, './out.wav', '/data/en', './out-params.txt'].map(ref)
	m._GnuSpeech_synthesizeToFile(...refs, false)
	refs.forEach(p => m._free(p))
	writeFileSync(file, m.FS.readFile('./out.wav'))
}
