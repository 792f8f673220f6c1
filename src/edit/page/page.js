const state = await (await fetch("/state")).json();
document.getElementById("state").textContent = JSON.stringify(state, null, 1);
