// Writes cdigit_check_characters.csv: what cdigit answers for payloads drawn at random, in the systems that
// python-stdnum does not know.
//
// npm install cdigit@5.0.1, then: node cdigit_check_characters.mjs > cdigit_check_characters.csv
import { mod1271_36, mod27_26, mod661_26 } from "cdigit";

const LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const ROWS = 40;

// A linear congruential generator, so that the table can be written again.
let state = 20261125;
const draw = (count) => {
  state = (state * 1103515245 + 12345) % 2147483648;
  return Math.floor((state / 2147483648) * count);
};
const drawn = (alphabet) => Array.from({ length: 1 + draw(18) }, () => alphabet[draw(alphabet.length)]).join("");

console.log("scheme,payload,check");
for (const [name, system, alphabet] of [
  ["iso7064-mod-661-26", mod661_26, LETTERS],
  ["iso7064-mod-1271-36", mod1271_36, "0123456789" + LETTERS],
  ["iso7064-mod-27-26", mod27_26, LETTERS],
]) {
  for (let row = 0; row < ROWS; row++) {
    const payload = drawn(alphabet);
    console.log(`${name},${payload},${system.compute(payload)}`);
  }
}
