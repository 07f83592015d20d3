// A number that somebody typed, as inventory/measures/numbers.py reads it in English; one table tries both
// (tests/inventory/test_numbers.py). Here it only says beforehand what the server will say.

const GROUPED = /^([1-9]\d{0,2}([., '\u2019])\d{3}(?:\2\d{3})*)(?:(?!\2)[.,](\d+))?$/;

/** The number as digits with a decimal point; null for what the server would refuse, as it does 1,250. */
export function readNumber(text) {
  if (text.length > 60 || /[\p{C}\p{Zl}\p{Zp}]/u.test(text)) return null;
  const plain = text.replace(/\s+/g, " ").trim().replace(/^\+ ?/, "");
  const one = /^(\d*)([.,]?)(\d+)$/.exec(plain);
  if (one) return one[2] === "," && one[3].length === 3 && /[1-9]/.test(one[1] + one[3]) ? null : `${one[1] || "0"}${one[2] && "."}${one[3]}`;
  const parted = GROUPED.exec(plain);
  return parted && `${parted[1].replace(/\D/g, "")}${parted[3] ? `.${parted[3]}` : ""}`;
}
