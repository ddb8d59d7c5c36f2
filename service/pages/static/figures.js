// Figures as they are typed and as they are shown, by the decimal sign of whoever looks.

export const local = (figure) => String(figure).replace(".", document.getElementById("page")?.dataset.decimal ?? ".");

export const numberOf = (typed) => {
  const plain = typed.replace(/[\s'’]/g, "").replace(/g$/i, "").replace("−", "-").replace(",", ".");
  return plain === "" || Number.isNaN(Number(plain)) ? null : Number(plain);
};
