// The check character of a code (ISO/IEC 7064, MOD 37-2): true, false, or null for what is no code at all.

const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
export const rightCode = (typed) => {
  const plain = typed.toUpperCase().replace(/[\s\-\u2010-\u2015]/g, "");
  const read = /^([A-Z])([0-9OI]{5,12})([0-9A-Z])$/.exec(plain);
  if (!read) return null;
  const body = read[1] + read[2].replaceAll("O", "0").replaceAll("I", "1");
  let sum = 0;
  for (const letter of body) sum = ((sum + alphabet.indexOf(letter)) * 2) % 37;
  const check = { O: "0", I: "1" }[read[3]] ?? read[3];
  return alphabet[(38 - sum) % 37] === check;
};
