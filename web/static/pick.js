// Ticking runs to lay them over each other; the order of ticking is the order shown, the others are compared with the first.
for (const form of document.querySelectorAll("[data-pick]")) {
  const buttons = form.querySelectorAll("button[type=submit]");
  const status = form.querySelector("output");
  const boxes = [...form.querySelectorAll("input[name=run]")];
  const order = (form.dataset.pick || "").split(",").filter(Boolean);

  const show = () => {
    for (const box of boxes) box.checked = order.includes(box.value);
    for (const button of buttons) button.disabled = order.length === 0;
    status.textContent = order.length ? `${order.length} selected` : "";
  };
  for (const box of boxes) {
    box.addEventListener("change", () => {
      if (box.checked) order.push(box.value);
      else order.splice(order.indexOf(box.value), 1);
      show();
    });
  }
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    location.assign(`${event.submitter?.getAttribute("formaction") ?? "/overlay"}?runs=${order.map(encodeURIComponent).join(",")}`);
  });
  show();
}

// On paper the strips stand open, also where a phone has them closed.
const strips = document.querySelector(".strips");
if (strips) {
  let open = strips.open;
  addEventListener("beforeprint", () => {
    open = strips.open;
    strips.open = true;
  });
  addEventListener("afterprint", () => (strips.open = open));
}
