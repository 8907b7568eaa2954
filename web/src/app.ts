// Every page works without this script; it adds what a phone on a scaffold
// makes easier. Each module looks for its own marks in the page.
import { nameDevice } from "./device";
import { guardForms } from "./forms";
import { startIntake } from "./intake";
import { narrowSelects } from "./narrow";
import { showNeeds } from "./needs";
import { placeOpenings } from "./openings";
import { drawOutlines } from "./outline";
import { tapDrawings } from "./tap";
import { awaitCopies } from "./waiting";
import { showCell, showSection } from "./walls";
import { zoomDrawings } from "./zoom";

document.documentElement.classList.add("scripted"); // shows what needs it
nameDevice();
showSection();
zoomDrawings();
showCell();
guardForms();
narrowSelects();
showNeeds();
tapDrawings();
drawOutlines();
placeOpenings();
awaitCopies();
startIntake();
