import { mount } from 'svelte';
import '../style/base.css';
import '../style/office.css';
import '../style/tokens.css';
import { speech } from '../words/speech.svelte';
import { hub } from './door';
import Office from './Office.svelte';
import { keptLanguage } from './language';

speech.language = keptLanguage();
const target = document.getElementById('office');
if (target) mount(Office, { target, props: { door: hub } });
